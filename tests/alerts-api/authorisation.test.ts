import { mayActAs, roles } from '@warmbrick/contracts';
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { apiOperations, type Operation } from './api-operations.js';
import { type ApiWorld, asKey, startApiWorld } from './api-world.js';
import { type Components, valuesOf } from './from-schema.js';

/** The one kind of answer that never ends; it is asked for over a connection of its own. */
const endless = 'getStream';

const { operations, components } = await apiOperations();
let world: ApiWorld;
let address: string;
beforeAll(async () => {
  world = await startApiWorld({ access: { wrongKeysPerMinute: 1e9 } });
  address = await world.app.listen({ port: 0, host: '127.0.0.1' });
});
afterAll(() => world.stop());

/** An answer as far as it tells who may what. */
interface Answer {
  readonly status: number;
  readonly text: string;
  readonly code: string | undefined;
}

/** Values for path parameters by their names; the rest is made from the schema. */
const machineOf = (fleet: string): Record<string, string> => ({ machineId: `${fleet}-1`, fleetId: fleet });

async function ask(operation: Operation, key: string | undefined, named: Record<string, string>): Promise<Answer> {
  const { url, body } = requestOf(operation, components, named);
  const response = await fetch(`${address}${url}`, {
    method: operation.method,
    headers: { ...asKey(key), ...(body === undefined ? {} : { 'content-type': 'application/json' }) },
    ...(body === undefined ? {} : { body }),
  });
  if (operation.name === endless && response.ok) {
    await response.body?.cancel();
    return { status: response.status, text: '', code: undefined };
  }
  const text = await response.text();
  const isProblem = response.headers.get('content-type')?.startsWith('application/problem+json') === true;
  return { status: response.status, text, code: isProblem ? (JSON.parse(text) as { code: string }).code : undefined };
}

/** A request that the schema allows, the same each time. */
function requestOf(operation: Operation, components: Components, named: Record<string, string>) {
  const sample = (schema: object) => fc.sample(valuesOf(schema, components), { numRuns: 1, seed: 7 })[0];
  let url = operation.path;
  for (const { in: place, name, schema } of operation.parameters) {
    if (place === 'path') url = url.replace(`{${name}}`, encodeURIComponent(named[name] ?? String(sample(schema))));
  }
  return { url, body: operation.body === null ? undefined : JSON.stringify(sample(operation.body)) };
}

describe.each(operations)('$name ($method $path)', (operation) => {
  const isOpen = operation.role === 'open';

  it('is for nobody who does not say who it is', async () => {
    // There are keys for admins, so that this computer itself needs one as well.
    const { status, code } = await ask(operation, undefined, machineOf('north'));
    if (isOpen) expect(code).not.toBe('key-missing');
    else expect([status, code]).toEqual([401, 'key-missing']);
    if (isOpen) return;
    const wrong = await ask(operation, `wbk_0123456789ab_${'x'.repeat(43)}`, machineOf('north'));
    expect([wrong.status, wrong.code]).toEqual([401, 'key-invalid']);
  });

  it.each(roles)('as %s', async (role) => {
    const answer = await ask(operation, world.keys[role], machineOf('north'));
    const isAllowed = operation.role === 'open' || mayActAs(role, operation.role);
    if (isAllowed) expect(answer.code).not.toBe('role-too-low');
    else expect([answer.status, answer.code]).toEqual([403, 'role-too-low']);
    expect(answer.status).toBeLessThan(500);
  });

  it.each(roles)('tells a %s of another fleet nothing', async (role) => {
    const answer = await ask(operation, world.keys[`north-${role}`], machineOf('south'));
    expect(answer.status).toBeLessThan(500);
    // The audit log tells of the caller's own attempts, by their names.
    if (answer.status < 300 && operation.name !== 'getAudit') expect(answer.text).not.toContain('south');
    // What is another fleet's looks like what there is not.
    if (operation.path.includes('{machineId}')) {
      expect(answer.status).toBeGreaterThanOrEqual(400);
      const nowhere = await ask(operation, world.keys[`north-${role}`], {
        ...machineOf('south'),
        machineId: 'nowhere',
      });
      expect([answer.status, answer.code]).toEqual([nowhere.status, nowhere.code]);
    }
  });
});

describe('the fleet of the others', () => {
  it('stands as it stood after everything that a foreign admin tried', async () => {
    const everything = async () => ({
      machine: await world.store.getMachine('south-1'),
      fleets: await world.store.fleetsOf(['south-1']),
      findings: (await world.store.listFindings({ machineId: 'south-1', limit: 100 })).items,
      names: (await world.store.listFleets()).find(({ fleetId }) => fleetId === 'south')?.name,
    });
    const before = await everything();
    for (const operation of operations) {
      if (operation.method === 'GET') continue;
      await ask(operation, world.keys['north-admin'], machineOf('south'));
    }
    expect(await everything()).toEqual(before);
    expect(before.machine).not.toBeNull();
  });
});
