import type { ResidencyRow } from '@warmbrick/analysis';
import type { Store } from '@warmbrick/store';
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { changeOf, rowAt } from './blocks.js';
import { runSql, startTestServer, type TestServer } from './postgres.js';

let server: TestServer;
let url: string;
let store: Store;

beforeAll(async () => {
  server = await startTestServer();
  url = await server.freshDatabase();
  store = await server.openOn(url);
});
afterAll(() => server.stop());

/** Thousandths, as the analysis gives them, and any other number. */
const figure = fc.oneof(
  fc.integer({ min: 0, max: 900_000 }).map((count) => count / 1000),
  fc.double({ noNaN: true }),
  fc.constantFrom(0, -0, 1e300, 5e-324, 0.1 + 0.2, 2 ** 40, -1),
);

const rows = fc.uniqueArray(fc.nat(1_000_000), { minLength: 1, maxLength: 20 }).chain((starts) =>
  fc.tuple(
    ...starts
      .sort((a, b) => a - b)
      .map((start) =>
        fc
          .tuple(fc.array(figure, { minLength: 15, maxLength: 15 }), fc.option(figure))
          .map(([figures, maxExhaustTempC]): ResidencyRow => {
            const { startedMs: _, ...shape } = rowAt(0, 0);
            const names = Object.keys(shape);
            const values = names.map((name, i) => [name, name === 'maxExhaustTempC' ? maxExhaustTempC : figures[i]]);
            return { startedMs: start * 900_000, ...Object.fromEntries(values) };
          }),
      ),
  ),
);

describe('rows', () => {
  it('come back bit for bit, whatever their figures are', async () => {
    let runs = 0;
    await fc.assert(
      fc.asyncProperty(rows, async (written) => {
        const machineId = `m${runs++}`;
        await store.commit([changeOf(machineId, { rows: written })]);
        const read = (await store.listRows([machineId], 0, 1e14)).get(machineId);
        // Object.is tells negative zero from zero, and so does this.
        expect(read).toStrictEqual(written);
      }),
      { numRuns: 60, examples: [[[{ ...rowAt(0, 0), noTemperatureS: -0 }]]] },
    );
  }, 60_000);

  it('that were changed by hand are an error and no figures', async () => {
    await store.commit([changeOf('bad', { rows: [rowAt(0, 1)] })]);
    for (const body of ['\\x07', '\\x02', '\\x0100']) {
      await runSql(url, `UPDATE residency_row SET body = '${body}' WHERE machine_id = 'bad'`);
      await expect(store.listRows(['bad'], 0, 1)).rejects.toMatchObject({ code: 'damaged-chunk' });
    }
  });
});
