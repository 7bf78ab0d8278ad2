/** The audit as a user runs it, over a database that the pipeline has filled. */

import { chmodSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { openStore, startEmbeddedPostgres } from '@warmbrick/store';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { pieces, simulated, startMs, testIngest } from '../ingest/drive.js';
import { runSql, startTestServer, type TestServer } from '../store/postgres.js';
import { run } from './run.js';

let server: TestServer;
let url: string;
const urlBefore = process.env.DATABASE_URL;

beforeAll(async () => {
  server = await startTestServer();
});
afterAll(() => server.stop());
beforeEach(async () => {
  url = await server.freshDatabase();
  process.env.DATABASE_URL = url;
});
afterEach(() => {
  if (urlBefore === undefined) delete process.env.DATABASE_URL;
  else process.env.DATABASE_URL = urlBefore;
});

interface Audited {
  readonly isEqual: boolean;
  readonly machines: readonly {
    readonly machineId: string;
    readonly isEqual: boolean;
    readonly samples: number;
    readonly rows: number;
    readonly findings: number;
    readonly days: number;
    readonly chain: string;
    readonly firstDay: string | null;
    readonly firstDifference: Record<string, unknown> | null;
  }[];
}

async function audit(...args: string[]): Promise<Audited & { exitCode: number }> {
  const { exitCode, out, err } = await run('audit', '--json', '--quiet', ...args);
  expect(err).toBe('');
  return { exitCode, ...(JSON.parse(out) as Audited) };
}

/** Every third piece first, then the others backwards, one of them twice. */
function shuffled<T>(items: readonly T[]): T[] {
  const first = items.filter((_, at) => at % 3 === 1);
  const others = items.filter((_, at) => at % 3 !== 1).reverse();
  return [...first, ...others, items[0] as T];
}

const day = '2026-03-10';

async function fill(...machineIds: string[]): Promise<void> {
  const store = await server.openOn(url);
  const ingest = testIngest(store);
  for (const machineId of machineIds) {
    for (const piece of shuffled(pieces(simulated(machineId), 500))) await ingest.accept([piece]);
  }
  await ingest.close();
}

describe('warmbrick audit', { timeout: 120_000 }, () => {
  it('finds nothing after samples came in any order, and says what it compared', async () => {
    await fill('loader-1', 'loader-2');
    const { exitCode, isEqual, machines } = await audit();
    expect(machines.map(({ firstDifference }) => firstDifference)).toEqual([null, null]);
    expect([exitCode, isEqual]).toEqual([0, true]);
    expect(machines.map(({ machineId }) => machineId)).toEqual(['loader-1', 'loader-2']);
    for (const machine of machines) {
      expect(machine).toMatchObject({ days: 1, firstDay: null, firstDifference: null });
      expect(machine.samples).toBeGreaterThan(6000);
      expect(machine.rows).toBeGreaterThanOrEqual(8);
      expect(machine.findings).toBeGreaterThan(0);
      expect(machine.chain).toMatch(/^[0-9a-f]{64}$/);
    }
    const text = await run('audit', '--quiet');
    expect(text.exitCode).toBe(0);
    expect(text.out).toContain('loader-1: equal (');
    expect(text.out).toContain('What is stored is what the archive gives, for all 2 machines.');
  });

  it('names the row that was tampered with, its field and its day', async () => {
    await fill('loader-1', 'loader-2');
    const startedMs = startMs + 1_800_000;
    // The last byte of a row is the end of its last figure, the fuel.
    const tampered = await runSql(
      url,
      `UPDATE residency_row SET body = substring(body FROM 1 FOR length(body) - 1) || '\\x05'::bytea
        WHERE machine_id = 'loader-2' AND started = $1 RETURNING 1`,
      [startedMs],
    );
    expect(tampered).toHaveLength(1);
    const { exitCode, machines } = await audit();
    expect(exitCode).toBe(1);
    expect(machines.map(({ isEqual }) => isEqual)).toEqual([true, false]);
    expect(machines[1]).toMatchObject({
      firstDay: day,
      firstDifference: { kind: 'row', where: `${new Date(startedMs).toISOString()} fuelL` },
    });
    const text = await run('audit', '--machine', 'loader-2', '--quiet');
    expect(text.out).toContain(`loader-2: DIFFERENT from ${day} on`);
    expect(text.out).toContain(`first difference: row ${new Date(startedMs).toISOString()} fuelL: stored `);
    // The other half of the day is as it was.
    expect(await audit('--from', new Date(startedMs + 900_000).toISOString())).toMatchObject({ exitCode: 0 });
    expect(await audit('--to', new Date(startedMs).toISOString())).toMatchObject({ exitCode: 0 });
  });

  it.each([
    ['a row deleted', 'DELETE FROM residency_row WHERE started = (SELECT min(started) FROM residency_row)', 'row'],
    ['a finding changed', `UPDATE finding SET severity = 'info' WHERE kind = 'idle-streak'`, 'finding'],
    ['a finding deleted', `DELETE FROM finding WHERE kind = 'idle-streak'`, 'finding'],
    ['a finding withdrawn', `UPDATE finding SET withdrawn_at = 0 WHERE kind = 'idle-streak'`, 'finding'],
    [
      'a score changed',
      `UPDATE machine SET summary = jsonb_set(summary::jsonb, '{score,value}', '1')::json`,
      'summary',
    ],
    ['another threshold set', `UPDATE machine SET threshold_set = 'trial-7'`, 'thresholds'],
    ['the archive shortened', 'DELETE FROM sample_chunk WHERE t0 < (SELECT max(t0) FROM sample_chunk)', 'archive'],
  ])('finds %s', async (_name, sql, kind) => {
    await fill('loader-1');
    await runSql(url, sql);
    const { exitCode, machines } = await audit();
    expect(exitCode).toBe(1);
    expect(machines[0]?.firstDifference).toMatchObject({ kind });
  });

  it('audits an empty database, and refuses a machine or a folder that is not there', async () => {
    expect(await run('audit', '--quiet')).toMatchObject({ exitCode: 0, out: 'Nothing is stored.\n' });
    const unknown = await run('audit', '--quiet', '--machine', 'nobody');
    expect(unknown.exitCode).toBe(2);
    expect(unknown.err).toContain('nobody');
    const noFolder = await run('audit', '--quiet', '--data-dir', '/nowhere/at/all');
    expect(noFolder.exitCode).toBe(2);
    expect(noFolder.err).toContain('There is no data folder here.');
    expect((await run('audit', '--from', 'yesterday')).exitCode).toBe(2);
  });

  it('opens the embedded database of a data folder', async () => {
    const folder = mkdtempSync(join(tmpdir(), 'warmbrick-audit-'));
    chmodSync(folder, 0o755);
    try {
      const embedded = await startEmbeddedPostgres({ dataDir: folder });
      const store = await openStore({ connectionString: embedded.connectionString });
      const ingest = testIngest(store);
      await ingest.accept([simulated('loader-3')]);
      await ingest.close();
      await store.close();
      await embedded.stop();
      expect(await audit('--data-dir', folder)).toMatchObject({ exitCode: 0, machines: [{ machineId: 'loader-3' }] });
    } finally {
      rmSync(folder, { recursive: true, force: true });
    }
  });
});
