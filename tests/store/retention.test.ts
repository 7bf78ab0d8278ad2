/** Months of samples, what is deleted by age, and what is put together. */

import type { Retention, Store } from '@warmbrick/store';
import { afterAll, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { changeOf, findingAt, hourStartMs, rowAt, snapshotOf, steadyBlock, summaryOf } from './blocks.js';
import { runSql, startTestServer, type TestServer } from './postgres.js';

let server: TestServer;
let url: string;
let store: Store;

beforeAll(async () => {
  server = await startTestServer();
});
afterAll(() => server.stop());
beforeEach(async () => {
  url = await server.freshDatabase();
  store = await server.openOn(url, { outbox: true });
});

const dayMs = 86_400_000;
const all: Retention = {
  samplesMs: null,
  rowsMs: null,
  snapshotsMs: null,
  faultsMs: null,
  sentOutboxMs: null,
  unsentOutboxMs: null,
  rejectsMs: null,
};

async function months(): Promise<string[]> {
  const rows = await runSql(
    url,
    `SELECT c.relname AS name FROM pg_inherits i JOIN pg_class c ON c.oid = i.inhrelid
      WHERE i.inhparent = 'sample_chunk'::regclass ORDER BY 1`,
  );
  return rows.map((row) => String(row.name).replace('sample_chunk_', ''));
}

const send = (machineId: string, fromMs: number, count: number) =>
  store.commit([changeOf(machineId, { samples: [steadyBlock(machineId, fromMs, count)] })]);

const countOf = async (machineId: string, fromMs = 0, toMs = 1e14) =>
  (await store.readSamples({ machineId, fromMs, toMs })).reduce((sum, block) => sum + block.timeMs.length, 0);

describe('the months of the archive', () => {
  it('are made when their first samples come, whenever that was, also by two at once', async () => {
    const endOfMonthMs = Date.UTC(2026, 1, 1);
    await send('m', endOfMonthMs - 30_000, 60);
    await send('m', Date.UTC(2019, 6, 4), 10);
    // Clocks that were never set, or are set wrong, share a table.
    await send('m', 5_000, 10);
    await send('m', Date.UTC(2150, 0), 10);
    expect(await months()).toEqual(['2019_07', '2026_01', '2026_02', 'early', 'far']);
    expect(await countOf('m')).toBe(90);
    expect(await countOf('m', endOfMonthMs - 1000, endOfMonthMs + 1000)).toBe(2);
    const other = await server.openOn(url);
    const samples = (id: string) => [changeOf(id, { samples: [steadyBlock(id, Date.UTC(2027, 3, 1), 5)] })];
    await Promise.all(['a', 'b', 'c', 'd'].map((id, at) => (at % 2 === 0 ? store : other).commit(samples(id))));
    expect(await countOf('d')).toBe(5);
  });

  it('are there before they begin, once retain was called', async () => {
    await store.retain(all, Date.UTC(2031, 11, 24));
    expect(await months()).toEqual(['2031_12', '2032_01', 'early', 'far']);
  });

  it('go as a whole when all of them is too old, and come again for samples that still come', async () => {
    const [oldMs, lateMs] = [Date.UTC(2025, 10, 30), Date.UTC(2025, 11, 1)];
    for (const at of [oldMs, lateMs, 7_000]) await send('m', at, 100);
    const writer = await server.openOn(url);
    await writer.commit([changeOf('n', { samples: [steadyBlock('n', oldMs, 5)] })]);
    const nowMs = Date.UTC(2026, 0, 31);
    const retired = await store.retain({ ...all, samplesMs: 45 * dayMs }, nowMs);
    expect(retired).toMatchObject({ sampleMonths: 1, chunks: 1 });
    expect(await months()).toEqual(['2025_12', '2026_01', '2026_02', 'early', 'far']);
    expect(await countOf('m')).toBe(100);
    // Another process that has seen the month does not stumble over its end.
    await writer.commit([changeOf('n', { samples: [steadyBlock('n', oldMs, 5)] })]);
    expect(await countOf('n')).toBe(5);
  });
});

describe('retain', () => {
  it('deletes each kind by its own age, and nothing else', async () => {
    const nowMs = Date.UTC(2026, 0, 31);
    const at = (days: number) => nowMs - days * dayMs;
    const report = {
      machineId: 'm',
      sourceAddress: 0,
      kind: 'active' as const,
      lamps: { malfunction: 'on', redStop: 'off', amberWarning: 'off', protect: 'off' } as const,
      flash: 255,
      codes: [],
    };
    const ages = [1, 5, 20];
    await store.commit(
      [
        changeOf('m', {
          rows: ages.map((age) => rowAt(at(age), 1)),
          faults: ages.map((age) => ({ ...report, timeMs: at(age) })),
          keptSnapshots: ages.map((age) => ({ atMs: at(age), snapshot: snapshotOf('m') })),
          findings: ages.map((age) => findingAt('m', at(age))),
        }),
      ],
      {
        rejects: ages.map((age) => ({
          source: 's',
          partition: 0,
          offset: age,
          reason: 'bad-json',
          detail: '',
          key: null,
          payload: new Uint8Array(3),
          atMs: at(age),
        })),
      },
    );
    const retention = {
      ...all,
      rowsMs: 10 * dayMs,
      faultsMs: 3 * dayMs,
      snapshotsMs: 2 * dayMs,
      rejectsMs: 10 * dayMs,
    };
    const retired = await store.retain(retention, nowMs);
    expect(retired).toEqual({
      alerts: 0,
      sampleMonths: 0,
      chunks: 0,
      rows: 1,
      snapshots: 2,
      faults: 2,
      sentOutbox: 0,
      unsentOutbox: 0,
      rejects: 1,
    });
    const kept = (await store.listRows(['m'], 0, nowMs)).get('m') ?? [];
    expect(kept.map((row) => row.startedMs)).toEqual([at(5), at(1)]);
    expect((await store.listFindings({ machineId: 'm', limit: 10 })).items).toHaveLength(3);
    expect((await store.listRejects({ limit: 10 })).items.map((it) => it.offset)).toEqual([1, 5]);
    expect(await store.loadSnapshot('m')).not.toBeNull();
  });

  it('bounds the outbox, whether anybody listens or not', async () => {
    await store.commit([changeOf('m', { findings: [1, 2, 3].map((start) => findingAt('m', start)) })]);
    const [sent] = await store.takeOutbox({ limit: 1, leaseMs: 0, owner: 'test' });
    await store.settleOutbox([sent?.id as number]);
    const hence = Date.now() + 10 * dayMs;
    const sentOnly = await store.retain({ ...all, sentOutboxMs: 7 * dayMs, unsentOutboxMs: 30 * dayMs }, hence);
    expect(sentOnly).toMatchObject({ sentOutbox: 1, unsentOutbox: 0 });
    const rest = await store.retain({ ...all, unsentOutboxMs: 7 * dayMs }, hence);
    expect(rest).toMatchObject({ sentOutbox: 0, unsentOutbox: 2 });
    expect(await store.takeOutbox({ limit: 9, leaseMs: 0, owner: 'test' })).toEqual([]);
  });
});

describe('compact', () => {
  it('puts the last hour of machines that fell silent together, and leaves the others', async () => {
    for (const machineId of ['a', 'b', 'c']) {
      for (let i = 0; i < 5; i++) await send(machineId, hourStartMs + i * 60_000, 60);
    }
    const toMs = hourStartMs + 5 * 60_000;
    const summaries = { a: toMs, b: toMs, c: toMs + 7_200_000 };
    for (const [id, seenMs] of Object.entries(summaries)) {
      await store.commit([changeOf(id, { summary: summaryOf(id, seenMs, 1) })]);
    }
    expect(await store.compact(toMs + 3_600_000, 1)).toBe(1);
    expect(await store.compact(toMs + 3_600_000, 10)).toBe(1);
    expect(await store.compact(toMs + 3_600_000, 10)).toBe(0);
    const counts = await runSql(url, 'SELECT machine_id, count(*)::int4 AS n FROM sample_chunk GROUP BY 1 ORDER BY 1');
    expect(counts.map((row) => row.n)).toEqual([1, 1, 5]);
    expect(await store.readSamples({ machineId: 'a', fromMs: 0, toMs: 1e14 })).toEqual([
      steadyBlock('a', hourStartMs, 300),
    ]);
  });
});
