import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { apiOperations, type Operation } from './api-operations.js';
import { type ApiWorld, asKey, startApiWorld } from './api-world.js';
import { valuesOf } from './from-schema.js';

/** Requests of each operation; with WARMBRICK_FUZZ_RUNS more of them. */
const runs = Number(process.env.WARMBRICK_FUZZ_RUNS ?? 60);
const seed = Number(process.env.WARMBRICK_FUZZ_SEED ?? 20_260_310);
/** What one operation may take, in ms; what was tried until then counts. */
const mostMs = 20_000;

const { operations, components } = await apiOperations();
let world: ApiWorld;
beforeAll(async () => {
  world = await startApiWorld({ limits: { requestsPerMinute: 1e9 } });
});
afterAll(() => world.stop());

const nasty = fc.oneof(
  fc.constantFrom('', ' ', '\u0000', '%00', '../..', "' OR 1=1 --", '{}', '[]', 'null', '\ud800', '𝕏'.repeat(300)),
  fc.string({ unit: 'binary', maxLength: 40 }),
  fc.constantFrom('-1', '1e309', 'NaN', '9007199254740993', '2026-02-30T00:00:00Z', '+275760-09-13T00:00:00.000Z'),
);
const garbage = fc.oneof(fc.jsonValue({ maxDepth: 3 }), nasty);

/** Mostly what the schema allows, often slightly wrong, sometimes anything. */
function requestsOf(operation: Operation) {
  const named: Record<string, string> = { machineId: 'north-1', fleetId: 'north' };
  const mixed = (schema: object) =>
    fc.oneof({ weight: 4, arbitrary: valuesOf(schema, components) }, { weight: 1, arbitrary: nasty });
  const inPath = operation.parameters.filter((it) => it.in === 'path');
  const inQuery = operation.parameters.filter((it) => it.in === 'query');
  return fc.record({
    path: fc.record(
      Object.fromEntries(
        inPath.map(({ name, schema }) => [name, fc.oneof(fc.constant(named[name] ?? 'x'), mixed(schema))]),
      ),
    ),
    query: fc.record(Object.fromEntries(inQuery.map(({ name, schema }) => [name, mixed(schema)])), {
      requiredKeys: [],
    }),
    body:
      operation.body === null
        ? fc.constant(undefined)
        : fc.oneof(
            { weight: 4, arbitrary: valuesOf(operation.body, components) },
            { weight: 2, arbitrary: broken(valuesOf(operation.body, components)) },
            { weight: 1, arbitrary: garbage },
          ),
    headers: fc.record(
      {
        'idempotency-key': fc.constantFrom('a', 'b', 'x'.repeat(300)),
        'last-event-id': nasty,
        accept: fc.constantFrom('text/csv', 'image/png', '*/*'),
      },
      { requiredKeys: [] },
    ),
  });
}

/** One field of an object exchanged for something else. */
function broken(values: fc.Arbitrary<unknown>): fc.Arbitrary<unknown> {
  return fc.tuple(values, garbage, fc.nat()).map(([value, other, place]) => {
    if (typeof value !== 'object' || value === null || Array.isArray(value)) return other;
    const names = Object.keys(value);
    const name = names[place % (names.length + 1)] ?? 'unheard';
    return { ...value, [name]: other };
  });
}

const encoded = (text: string) => encodeURIComponent(Buffer.from(text).toString());

describe.each(operations.filter(({ name }) => name !== 'getStream'))('$name ($method $path)', (operation) => {
  it('gives no 5xx, whatever it is asked', async () => {
    const statuses = new Set<number>();
    await fc.assert(
      fc.asyncProperty(requestsOf(operation), async ({ path, query, body, headers }) => {
        let url = operation.path;
        for (const [name, value] of Object.entries(path))
          url = url.replace(`{${name}}`, encoded(String(value)) || '%20');
        const search = Object.entries(query).map(([name, value]) => `${name}=${encoded(String(value))}`);
        if (search.length > 0) url += `?${search.join('&')}`;
        const safeHeaders = Object.entries(headers).filter(([, value]) => /^[\x20-\x7e]*$/.test(value));
        const answer = await world.app.inject({
          method: operation.method,
          url,
          headers: {
            ...Object.fromEntries(safeHeaders),
            ...asKey(world.keys.admin),
            ...(body === undefined ? {} : { 'content-type': 'application/json' }),
          },
          ...(body === undefined ? {} : { payload: JSON.stringify(body) ?? 'null' }),
        });
        statuses.add(answer.statusCode);
        expect(answer.statusCode, `${url} ${JSON.stringify(body)}: ${answer.body}`).toBeLessThan(500);
        if (answer.statusCode >= 400) {
          expect(answer.headers['content-type'], url).toMatch(/^application\/problem\+json/);
          expect(answer.body, url).not.toMatch(/\.[jt]s:\d+|node_modules|SELECT|postgres/i);
        }
      }),
      { numRuns: runs, seed, interruptAfterTimeLimit: mostMs },
    );
    expect(statuses.size).toBeGreaterThan(0);
  });
});
