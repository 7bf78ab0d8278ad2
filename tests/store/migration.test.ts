/** A database of the first step, with something in every table that a later step changes. */

import { encodeChunk, type Store } from '@warmbrick/store';
import pg from 'pg';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { openDatabase } from '../../libs/store/src/postgres/database.js';
import { migrate } from '../../libs/store/src/postgres/migrate.js';
import { migrations } from '../../libs/store/src/postgres/migrations.js';
import { hourStartMs, rowAt, steadyBlock } from './blocks.js';
import { runSql, startTestServer, type TestServer } from './postgres.js';

let server: TestServer;

beforeAll(async () => {
  server = await startTestServer();
});
afterAll(() => server.stop());

describe('a database of the first step', () => {
  it('keeps all its samples and rows, bit for bit', async () => {
    const url = await server.freshDatabase();
    const database = openDatabase({ connectionString: url });
    await migrate(database, migrations.slice(0, 1));
    await database.close();
    const blocks = [Date.UTC(2014, 5, 1), Date.UTC(2025, 11, 31, 23), hourStartMs].map((at) =>
      steadyBlock('m', at, 900),
    );
    const rows = [rowAt(0, 1e-300), { ...rowAt(hourStartMs, 900), belowS: 1 / 3, inS: 2, aboveS: 3.003, offS: 4 }];
    const client = new pg.Client({ connectionString: url });
    await client.connect();
    for (const block of blocks) {
      const [first, last] = [block.timeMs[0], block.timeMs.at(-1)];
      const values = ['m', first, last, 900, Buffer.from(encodeChunk(block))];
      await client.query('INSERT INTO sample_chunk VALUES ($1, $2, $3, $4, $5)', values);
    }
    for (const { startedMs, ...figures } of rows) {
      const values = ['m', startedMs, ...Object.values(figures)];
      await client.query(`INSERT INTO residency_row VALUES (${values.map((_, i) => `$${i + 1}`).join(', ')})`, values);
    }
    await client.end();

    const store: Store = await server.openOn(url);
    expect(await store.readSamples({ machineId: 'm', fromMs: 0, toMs: 1e14 })).toEqual(blocks);
    expect((await store.listRows(['m'], 0, 1e14)).get('m')).toEqual(rows);
    const months = await runSql(
      url,
      `SELECT to_regclass('sample_chunk_2025_12') AS a, to_regclass('unparted_chunk') AS b`,
    );
    expect(months[0]).toEqual({ a: 'sample_chunk_2025_12', b: null });
    const steps = await runSql(url, 'SELECT number FROM schema_step ORDER BY number');
    const numbers = steps.map((step) => Number(step.number));
    expect(numbers.slice(0, 4)).toEqual([1, 2, 3, 4]);
    expect(numbers).toEqual([...numbers].sort((a, b) => a - b));
  });
});
