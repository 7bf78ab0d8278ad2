import type { SampleBlock } from '@warmbrick/signals';
import { defaultProfile } from '@warmbrick/signals';
import type { Store } from '@warmbrick/store';
import { afterAll, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { changeOf, findingAt, hourStartMs, rowAt, snapshotOf, steadyBlock, summaryOf } from './blocks.js';
import { runSql, startTestServer, type TestServer } from './postgres.js';

let server: TestServer;
let url: string;
let store: Store;
const machineId = 'quarry-haul-01';
const hourMs = 3_600_000;

beforeAll(async () => {
  server = await startTestServer();
});
afterAll(() => server.stop());
beforeEach(async () => {
  url = await server.freshDatabase();
  store = await server.openOn(url);
});

function timesOf(blocks: readonly SampleBlock[]): number[] {
  return blocks.flatMap((block) => [...block.timeMs]);
}

async function revisions(): Promise<Record<string, unknown>> {
  const rows = await runSql(url, 'SELECT id, revision FROM finding ORDER BY id');
  return Object.fromEntries(rows.map((row) => [row.id, row.revision]));
}

/** Everything that is stored, as one text. */
async function everything(): Promise<string> {
  const tables = [
    'machine',
    'sample_chunk',
    'analyzer_state',
    'analyzer_snapshot',
    'finding',
    'residency_row',
    'ingest_cursor',
  ];
  const rows = await Promise.all(tables.map((table) => runSql(url, `SELECT t::text FROM ${table} t ORDER BY 1`)));
  return JSON.stringify(rows);
}

describe('a commit', () => {
  it('gives back everything as it went in', async () => {
    const finding = findingAt(machineId, hourStartMs);
    const rows = [rowAt(hourStartMs, 900), rowAt(hourStartMs + 900_000, 1e-300)];
    const summary = summaryOf(machineId, hourStartMs + 599_000, 42.5);
    const change = changeOf(machineId, {
      samples: [steadyBlock(machineId, hourStartMs, 600)],
      findings: [finding],
      rows,
      summary,
    });
    await store.putMachine(machineId, { ...defaultProfile, name: 'Haul truck 1', site: 'Skarnfell quarry' });
    await store.commit([change], null);

    expect((await store.listFindings({ machineId, limit: 10 })).items).toEqual([finding]);
    // The order of the fields is kept too, so that a stored finding prints as it was made.
    const [stored] = (await store.listFindings({ machineId, limit: 10 })).items;
    expect(JSON.stringify(stored?.values)).toBe(JSON.stringify(finding.values));
    expect((await store.listRows([machineId], hourStartMs, hourStartMs + hourMs)).get(machineId)).toEqual(rows);
    expect(await store.loadSnapshot(machineId)).toEqual(change.snapshot);
    expect(await store.getMachine(machineId)).toEqual({
      machineId,
      profile: { ...defaultProfile, name: 'Haul truck 1', site: 'Skarnfell quarry' },
      thresholdSet: 'built-in-1',
      summary,
      lastSampleMs: hourStartMs + 599_000,
    });
    expect(await store.readSamples({ machineId, fromMs: hourStartMs, toMs: hourStartMs + hourMs })).toEqual(
      change.samples,
    );
  });

  it('done twice changes nothing, not even a revision', async () => {
    const change = changeOf(machineId, {
      samples: [steadyBlock(machineId, hourStartMs, 4000)],
      findings: [findingAt(machineId, hourStartMs)],
      withdrawnFindingIds: ['quarry-haul-01~idle-streak~1'],
      rows: [rowAt(hourStartMs, 900)],
      keptSnapshots: [{ atMs: hourStartMs, snapshot: snapshotOf(machineId) }],
      rewoundToMs: hourStartMs - 1,
    });
    await store.commit([change], null);
    const before = await everything();
    await store.commit([change], null);
    expect(await everything()).toBe(before);
    expect(before).toContain('idle-streak');
  });

  it('writes all machines of a batch or none', async () => {
    const good = changeOf('a', { findings: [findingAt('a', hourStartMs)] });
    const bad = changeOf('b', { findings: [findingAt('b', 0.5)] });
    await expect(store.commit([good, bad], null)).rejects.toThrow();
    expect(await store.getMachine('a')).toBeNull();
    expect((await store.listFindings({ machineId: 'a', limit: 10 })).items).toEqual([]);
  });

  it('refuses two changes of one machine as a bug of the caller', async () => {
    await expect(store.commit([changeOf('a'), changeOf('a')], null)).rejects.toThrow('two changes of machine a');
  });

  it('keeps text that could be taken for syntax as it is', async () => {
    const odd = `x"'},{\\$1;--\n\u2028 Ω`;
    await store.commit(
      [changeOf(odd, { samples: [steadyBlock(odd, hourStartMs, 2)], findings: [findingAt(odd, hourStartMs)] })],
      null,
    );
    expect((await store.getMachine(odd))?.machineId).toBe(odd);
    expect((await store.listFindings({ machineId: odd, limit: 1 })).items[0]?.machineId).toBe(odd);
    expect((await store.readSamples({ machineId: odd, fromMs: 0, toMs: 1e13 }))[0]?.machineId).toBe(odd);
  });
});

describe('findings', () => {
  it('are revised when their content changes and not when they only come again', async () => {
    const first = findingAt(machineId, hourStartMs);
    await store.commit([changeOf(machineId, { findings: [first] })], null);
    await store.commit([changeOf(machineId, { findings: [{ ...first, emittedMs: first.emittedMs + 60_000 }] })], null);
    expect(await revisions()).toEqual({ [first.id]: 1 });
    expect(await store.findingIdsSince(machineId, first.emittedMs)).toEqual([first.id]);
    await store.commit([changeOf(machineId, { findings: [{ ...first, endedMs: hourStartMs + hourMs }] })], null);
    expect(await revisions()).toEqual({ [first.id]: 2 });
  });

  it('vanish from every list when withdrawn, and come back when made again', async () => {
    const first = findingAt(machineId, hourStartMs);
    await store.commit([changeOf(machineId, { findings: [first] })], null);
    await store.commit([changeOf(machineId, { withdrawnFindingIds: [first.id] })], null);
    const range = { machineId, fromMs: hourStartMs, toMs: hourStartMs + 1 };
    expect((await store.listFindings({ machineId, limit: 10 })).items).toEqual([]);
    expect(await store.countFindings([range])).toEqual(new Map());
    expect(await store.findingIdsSince(machineId, 0)).toEqual([]);
    await store.commit([changeOf(machineId, { findings: [first], withdrawnFindingIds: [first.id] })], null);
    expect((await store.listFindings({ machineId, limit: 10 })).items).toEqual([first]);
    expect(await store.countFindings([range])).toEqual(new Map([[machineId, { 'idle-streak': 1 }]]));
    expect(await revisions()).toEqual({ [first.id]: 3 });
  });
});

describe('a rewind', () => {
  it('voids rows that start later and snapshots that stand later, and nothing else', async () => {
    const snapshot = snapshotOf(machineId);
    const at = (quarter: number) => hourStartMs + quarter * 900_000;
    const kept = [0, 1, 2].map((quarter) => ({ atMs: at(quarter), snapshot }));
    for (const id of [machineId, 'other']) {
      await store.commit([changeOf(id, { rows: [0, 1, 2].map((q) => rowAt(at(q), q)), keptSnapshots: kept })], null);
    }
    await store.commit([changeOf(machineId, { rewoundToMs: at(1), rows: [rowAt(at(1), 77)] })], null);
    const rows = await store.listRows([machineId, 'other'], at(0), at(9));
    expect(rows.get(machineId)?.map((row) => row.runningS)).toEqual([0, 77]);
    expect(rows.get('other')?.map((row) => row.runningS)).toEqual([0, 1, 2]);
    expect((await store.loadSnapshotBefore(machineId, at(9)))?.atMs).toBe(at(1));
    expect((await store.loadSnapshotBefore('other', at(9)))?.atMs).toBe(at(2));
    expect(await store.loadSnapshotBefore(machineId, at(0) - 1)).toBeNull();
  });
});

describe('kept snapshots', () => {
  it('stay for a day, then one a day', async () => {
    const snapshot = snapshotOf(machineId);
    const quarterDayMs = 21_600_000;
    const dayStartMs = Date.UTC(2026, 0, 1);
    for (let i = 0; i < 40; i++) {
      await store.commit(
        [changeOf(machineId, { keptSnapshots: [{ atMs: dayStartMs + i * quarterDayMs, snapshot }] })],
        null,
      );
    }
    const rows = await runSql(url, 'SELECT at FROM analyzer_snapshot ORDER BY at');
    const places = rows.map((row) => (Number(row.at) - dayStartMs) / quarterDayMs);
    expect(places).toEqual([0, 4, 8, 12, 16, 20, 24, 28, 32, 36, 37, 38, 39]);
  });
});

describe('the archive', () => {
  async function chunks(): Promise<{ t0: number; t1: number; n: number }[]> {
    const rows = await runSql(url, 'SELECT t0, t1, n FROM sample_chunk ORDER BY t0');
    return rows.map((row) => ({ t0: Number(row.t0), t1: Number(row.t1), n: Number(row.n) }));
  }
  async function send(fromS: number, count: number): Promise<void> {
    await store.commit(
      [changeOf(machineId, { samples: [steadyBlock(machineId, hourStartMs + fromS * 1000, count)] })],
      null,
    );
  }

  it('holds few chunks an hour, and one once the machine has gone on', async () => {
    let most = 0;
    for (let packet = 0; packet < 354; packet++) {
      await send(packet * 10, 10);
      if (packet % 7 === 0) most = Math.max(most, (await chunks()).length);
    }
    // Many, or packets would be put together too often; and never more than the bound.
    expect(most).toBeGreaterThan(16);
    expect(most).toBeLessThanOrEqual(64);
    await send(3600, 60);
    const after = await chunks();
    expect(after.map((chunk) => chunk.n)).toEqual([3540, 60]);
    expect(after[0]).toMatchObject({ t0: hourStartMs, t1: hourStartMs + 3_539_000 });
    const blocks = await store.readSamples({ machineId, fromMs: hourStartMs, toMs: hourStartMs + 2 * hourMs });
    expect(blocks[0]).toEqual(steadyBlock(machineId, hourStartMs, 3540));
  }, 60_000);

  it('merges what comes late or twice, sample by sample', async () => {
    await send(0, 100);
    await send(200, 100);
    await send(50, 200);
    const blocks = await store.readSamples({ machineId, fromMs: hourStartMs, toMs: hourStartMs + hourMs });
    expect(blocks).toEqual([steadyBlock(machineId, hourStartMs, 300)]);
    expect(await chunks()).toHaveLength(1);
  });

  it('cuts at full hours and reads exactly the range that was asked for', async () => {
    await send(-1800, 7200);
    expect((await chunks()).map((chunk) => chunk.n)).toEqual([1800, 3600, 1800]);
    const range = { machineId, fromMs: hourStartMs - 2000, toMs: hourStartMs + 3000 };
    const blocks = await store.readSamples({ ...range, channels: ['exhaustTempC'] });
    expect(timesOf(blocks)).toEqual([-2, -1, 0, 1, 2].map((s) => hourStartMs + s * 1000));
    expect(blocks.map((block) => Object.keys(block.channels))).toEqual([['exhaustTempC'], ['exhaustTempC']]);
    expect(await store.readSamples({ ...range, machineId: 'nobody' })).toEqual([]);
  });

  it('takes a batch larger than one statement carries, and reads it back bit for bit', async () => {
    // Random bits do not shrink: 240 hours of these three columns are over 20 MB.
    const count = 240 * 3600;
    const timeMs = Float64Array.from({ length: count }, (_, i) => hourStartMs + i * 1000);
    const noise = () => new Float64Array(count).map(() => Math.random() * 1e6);
    const block = { machineId, timeMs, channels: { engineHours: noise(), idleHours: noise(), totalFuelL: noise() } };
    await store.commit([changeOf(machineId, { samples: [block] })], null);
    const size = await runSql(url, 'SELECT sum(length(data))::int4 AS bytes FROM sample_chunk');
    expect(size[0]?.bytes).toBeGreaterThan(16_000_000);
    const blocks = await store.readSamples({ machineId, fromMs: 0, toMs: 1e14 });
    expect(blocks).toHaveLength(240);
    let at = 0;
    for (const part of blocks) {
      expect(part.channels.totalFuelL).toEqual(block.channels.totalFuelL.subarray(at, at + part.timeMs.length));
      at += part.timeMs.length;
    }
    expect(at).toBe(count);
  }, 60_000);

  it('refuses a range that does not fit in memory', async () => {
    await send(0, 10);
    await runSql(url, 'UPDATE sample_chunk SET n = 3000001');
    const reading = store.readSamples({ machineId, fromMs: hourStartMs, toMs: hourStartMs + hourMs });
    await expect(reading).rejects.toMatchObject({ code: 'range-too-long' });
  });
});
