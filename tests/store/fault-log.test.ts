/** Fault episodes in the store: folded with the reports, the same in any order of arrival, kept for good. */

import { fc, test } from '@fast-check/vitest';
import { derateEpisodes, type FaultEpisode, foldFaults, initialFaultLog } from '@warmbrick/analysis';
import { defaultProfile, type FaultReport } from '@warmbrick/signals';
import type { FaultLogLine, FaultLogPage, Store } from '@warmbrick/store';
import { afterAll, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { changeOf } from './blocks.js';
import { runSql, startTestServer, type TestServer } from './postgres.js';

let server: TestServer;
let store: Store;
let connectionString: string;

beforeAll(async () => {
  server = await startTestServer();
});
afterAll(() => server.stop());
beforeEach(async () => {
  connectionString = await server.freshDatabase();
  store = await server.openOn(connectionString);
});

const startMs = Date.UTC(2026, 2, 2, 6);
const dayMs = 86_400_000;
const minuteMs = 60_000;

type Code = readonly [spn: number, fmi: number];

function listAt(timeMs: number, codes: readonly Code[], more: Partial<FaultReport> = {}): FaultReport {
  return {
    machineId: 'm',
    timeMs,
    sourceAddress: 61,
    kind: 'active',
    lamps: { malfunction: 'on', redStop: 'off', amberWarning: 'on', protect: 'unavailable' },
    flash: 255,
    codes: codes.map(([spn, fmi]) => ({ spn, fmi, occurrenceCount: null, conversionMethod: 0 })),
    ...more,
  };
}

const commit = (faults: readonly FaultReport[]) =>
  store.commit([changeOf('m', { faults, summary: null, snapshot: null })]);
const everything = { machineId: 'm', fromMs: 0, toMs: Number.POSITIVE_INFINITY };

/** A week of three controllers: codes that come, go, come again; one that a later day tells of as previously active. */
function week(): FaultReport[] {
  const reports: FaultReport[] = [];
  for (let day = 0; day < 7; day++) {
    const at = startMs + day * dayMs;
    reports.push(
      listAt(at, day % 2 === 0 ? [[1761, 4]] : []),
      listAt(
        at + minuteMs,
        day % 2 === 0
          ? [
              [1761, 4],
              [5246, 16],
            ]
          : [],
      ),
      listAt(at + 2 * minuteMs, [[3216, day % 3]], { sourceAddress: 85 }),
      listAt(at + 3 * minuteMs, [], { sourceAddress: 85 }),
      listAt(at + 5 * minuteMs, [], { sourceAddress: 85 }),
      listAt(at + 4 * minuteMs, [[94, 18]], { sourceAddress: 0, kind: 'previously-active' }),
    );
  }
  return reports;
}

describe('fault episodes', () => {
  it('are folded by the commit that brings the reports', async () => {
    await commit([listAt(startMs, [[1761, 4]])]);
    await commit([
      listAt(startMs + minuteMs, [
        [1761, 4],
        [3364, 2],
      ]),
    ]);
    await commit([listAt(startMs + 2 * minuteMs, [[3364, 2]]), listAt(startMs + 3 * minuteMs, [[3364, 2]])]);
    const episodes = await store.listFaultEpisodes(everything);
    expect(episodes.map(({ spn, startedMs, endedMs }) => ({ spn, startedMs, endedMs }))).toEqual([
      { spn: 1761, startedMs: startMs, endedMs: startMs + 2 * minuteMs },
      { spn: 3364, startedMs: startMs + minuteMs, endedMs: null },
    ]);
  });

  it('of a feed, which only tells what occurred, do not clear each other', async () => {
    await commit([listAt(startMs, [[1761, 4]], { isPartial: true })]);
    await commit([listAt(startMs + minuteMs, [[3364, 2]], { isPartial: true })]);
    await commit([listAt(startMs + 9 * minuteMs, [[3364, 2]], { isPartial: true })]);
    const episodes = await store.listFaultEpisodes(everything);
    expect(episodes.map(({ spn, origin, endedBy }) => ({ spn, origin, endedBy }))).toEqual([
      { spn: 1761, origin: 'feed', endedBy: 'unknown' },
      { spn: 3364, origin: 'feed', endedBy: 'unknown' },
    ]);
    expect((await store.listFaults({ machineId: 'm', limit: 9 })).items.every((item) => item.isPartial)).toBe(true);
  });

  test.prop(
    [
      fc.shuffledSubarray(
        week().map((_, i) => i),
        { minLength: 42 },
      ),
      fc.integer({ min: 1, max: 9 }),
    ],
    {
      numRuns: 12,
    },
  )('are the same in any order of arrival, in any batches, and twice', async (order, size) => {
    await runSql(connectionString, 'TRUNCATE fault_report, fault_episode, fault_log_state, fault_log_snapshot');
    const reports = week();
    const straight = foldFaults(initialFaultLog, reports).episodes;
    for (let at = 0; at < order.length; at += size) {
      const batch = order.slice(at, at + size).map((i) => reports[i] as FaultReport);
      await commit([...batch, ...batch]);
    }
    expect(await store.listFaultEpisodes(everything)).toEqual(inOrder(straight));
  });

  it('go on from the last day when a late report comes, not from the beginning', async () => {
    await commit(week());
    const before = await runSql(connectionString, 'SELECT at FROM fault_log_snapshot ORDER BY at');
    expect(before).toHaveLength(6);
    await commit([
      listAt(startMs + 6 * dayMs + 30_000, [
        [1761, 4],
        [100, 1],
      ]),
    ]);
    expect(await runSql(connectionString, 'SELECT at FROM fault_log_snapshot ORDER BY at')).toEqual(before);
    await commit([
      listAt(startMs + 30_000, [
        [1761, 4],
        [102, 0],
      ]),
    ]);
    const late = [
      listAt(startMs + 6 * dayMs + 30_000, [
        [1761, 4],
        [100, 1],
      ]),
      listAt(startMs + 30_000, [
        [1761, 4],
        [102, 0],
      ]),
    ];
    const straight = foldFaults(initialFaultLog, [...week(), ...late]).episodes;
    expect(await store.listFaultEpisodes(everything)).toEqual(inOrder(straight));
  });

  it('are folded again over more reports than are read at once', async () => {
    const many = Array.from({ length: 12_000 }, (_, i) =>
      listAt(startMs + i * 10_000, i % 500 < 250 ? [[100, 1]] : []),
    );
    await commit(many);
    const first = listAt(startMs - dayMs, [[100, 1]]);
    await commit([first]);
    const straight = foldFaults(initialFaultLog, [...many, first]).episodes;
    expect(straight.length).toBeGreaterThan(20);
    expect(await store.listFaultEpisodes(everything)).toEqual(inOrder(straight));
  });

  it('stay when old reports are deleted', async () => {
    await commit(week());
    const episodes = await store.listFaultEpisodes(everything);
    const none = {
      samplesMs: null,
      rowsMs: null,
      snapshotsMs: null,
      sentOutboxMs: null,
      unsentOutboxMs: null,
      rejectsMs: null,
    };
    await store.retain({ ...none, faultsMs: 0 }, startMs + 30 * dayMs);
    expect((await store.listFaults({ machineId: 'm', limit: 9 })).items).toEqual([]);
    expect(await store.listFaultEpisodes(everything)).toEqual(episodes);
  });
});

function inOrder(episodes: readonly FaultEpisode[]): FaultEpisode[] {
  return [...episodes].sort((a, b) => a.startedMs - b.startedMs || (a.id < b.id ? -1 : 1));
}

describe('the log', () => {
  async function all(page: Omit<FaultLogPage, 'machineId' | 'limit'>): Promise<FaultLogLine[]> {
    const lines: FaultLogLine[] = [];
    for (let cursor: string | null | undefined; cursor !== null; ) {
      const found: Awaited<ReturnType<Store['listFaultLog']>> = await store.listFaultLog({
        ...page,
        machineId: 'm',
        limit: 2,
        cursor,
      });
      lines.push(...found.items);
      cursor = found.nextCursor;
    }
    return lines;
  }

  it('sorts by occurrence, by time and by first time, page by page', async () => {
    await commit(week());
    const byOccurrence = await all({ sort: 'occurrence' });
    const codes = byOccurrence.map(({ code, occurrences }) => [code, occurrences]);
    // Days 0, 2, 4, 6 with the level sensor; the NOx sensor with three failure modes in turn.
    expect(codes.map(([, occurrences]) => occurrences)).toEqual([4, 4, 3, 2, 2, 1]);
    expect(new Set(codes.map(([code]) => code))).toEqual(
      new Set(['61.1761.4', '61.5246.16', '85.3216.0', '85.3216.1', '85.3216.2', '0.94.18']),
    );
    const byTime = await all({ sort: 'time' });
    expect(byTime.map(({ lastSeenMs }) => lastSeenMs)).toEqual(
      byTime.map(({ lastSeenMs }) => lastSeenMs).sort((a, b) => b - a),
    );
    const byFirst = await all({ sort: 'first' });
    expect(byFirst.map(({ firstMs }) => firstMs)).toEqual(byFirst.map(({ firstMs }) => firstMs).sort((a, b) => a - b));
    expect(byFirst[0]?.code).toBe('61.1761.4');
    for (const lines of [byTime, byFirst]) expect(lines).toHaveLength(byOccurrence.length);
    expect(byOccurrence[0]?.episodes.map(({ startedMs }) => startedMs)).toEqual(
      byOccurrence[0]?.episodes.map(({ startedMs }) => startedMs).sort((a, b) => b - a),
    );
    const turned = store.listFaultLog({
      machineId: 'm',
      limit: 2,
      sort: 'time',
      cursor: (await store.listFaultLog({ machineId: 'm', limit: 2, sort: 'first' })).nextCursor ?? '',
    });
    await expect(turned).rejects.toMatchObject({ code: 'bad-cursor' });
  });

  it('keeps to a time, a code, a controller and what is active', async () => {
    await commit(week());
    const day3 = { fromMs: startMs + 3 * dayMs, toMs: startMs + 3 * dayMs + 10 * minuteMs };
    expect((await all({ sort: 'first', ...day3 })).map(({ code }) => code)).toContain('85.3216.0');
    expect((await all({ sort: 'first', ...day3 })).map(({ code }) => code)).not.toContain('85.3216.1');
    expect((await all({ sort: 'first', spn: 3216, fmi: 1 })).map(({ code }) => code)).toEqual(['85.3216.1']);
    expect((await all({ sort: 'first', sourceAddress: 0 })).map(({ code }) => code)).toEqual(['0.94.18']);
    const active = (await all({ sort: 'first', isActive: true })).map(({ code }) => code);
    expect(active).toEqual(['61.1761.4', '61.5246.16']);
    expect((await all({ sort: 'first', isActive: false })).length).toBe(4);
  });

  it('takes what somebody typed in, once', async () => {
    await commit([listAt(startMs, [])]);
    const entry = {
      id: 'e1',
      notice: {
        machineId: 'm',
        timeMs: startMs + minuteMs,
        sourceAddress: null,
        kind: 'occurred',
        origin: 'typed',
        spn: 4334,
        fmi: 18,
      },
      note: 'read off the display',
      typedBy: 'night shift',
      typedMs: startMs + dayMs,
    } as const;
    expect(await store.addFaultEntry(entry)).toBe(true);
    expect(await store.addFaultEntry(entry)).toBe(false);
    expect(await store.listFaultEntries(everything)).toEqual([entry]);
    const [line] = await all({ sort: 'time' });
    expect(line).toMatchObject({ code: 'x.4334.18', occurrences: 1, isActive: false });
    // A report that is older than the typed code is folded in as well.
    await commit([listAt(startMs - dayMs, [[100, 1]])]);
    expect((await store.listFaultEpisodes(everything)).map(({ spn }) => spn)).toEqual([100, 4334]);
  });
});

describe('texts of a fleet', () => {
  const row = (spn: number, fmi: number | null, text: string) => ({
    spn,
    fmi,
    text,
    inducementClass: null,
    isDerateCode: false,
  });

  it('are put as a whole, and keep who wrote what stayed the same', async () => {
    await store.putFaultTexts('main', {
      table: [row(520_300, null, 'boom sensor'), row(520_301, 3, 'lamp')],
      name: 'A',
      atMs: 1,
    });
    await store.putFaultTexts('main', {
      table: [row(520_300, null, 'boom sensor'), row(520_301, 4, 'lamp')],
      name: 'B',
      atMs: 2,
    });
    const stored = await store.listFaultTexts('main');
    expect(stored).toEqual([
      { row: row(520_300, null, 'boom sensor'), changedBy: 'A', changedMs: 1 },
      { row: row(520_301, 4, 'lamp'), changedBy: 'B', changedMs: 2 },
    ]);
    expect(await store.machineFaultTexts('m')).toEqual(stored.map((text) => text.row));
    expect(await store.listFaultTexts('other')).toEqual([]);
  });
});

describe('derates and inquiries', () => {
  const inquiryOf = (derateId: string, summary: string, verdict: 'unknown' | 'found' = 'unknown') => ({
    derateId,
    machineId: 'm',
    origins: [],
    verdict,
    confidence: 0.1,
    summary,
    checkFirst: [],
    doNot: [],
    suspectSensors: [],
    notes: [],
    scheduleIds: [],
  });

  async function storeDerate() {
    await commit([listAt(startMs, [[5246, 16]])]);
    const derates = derateEpisodes([], await store.listFaultEpisodes(everything), { profile: defaultProfile });
    expect(derates).toHaveLength(1);
    return derates;
  }
  it('are due after a commit that changed the log, until settled, and again when something happened meanwhile', async () => {
    const both = [
      [100, 1],
      [101, 1],
    ] as const;
    expect(await store.takeDueInquiries(10, 60_000)).toEqual([]);
    await commit([listAt(startMs, both)]);
    const [due] = await store.takeDueInquiries(10, 60_000);
    expect(due).toMatchObject({ machineId: 'm', fromMs: startMs });
    expect(await store.takeDueInquiries(10, 60_000)).toEqual([]);
    await commit([listAt(startMs - dayMs, [[101, 1]])]);
    await store.settleDueInquiry(due as NonNullable<typeof due>);
    const [again] = await store.takeDueInquiries(10, 60_000);
    expect(again?.fromMs).toBe(startMs - dayMs);
    await store.settleDueInquiry(again as NonNullable<typeof again>);
    expect(await store.takeDueInquiries(10, 60_000)).toEqual([]);
    // A list that says what the last one said changes nothing but when the code was last seen.
    await commit([listAt(startMs + minuteMs, both)]);
    expect(await store.takeDueInquiries(10, 60_000)).toEqual([]);
  });

  it('keep every answer that differs in what matters; another wording is no revision', async () => {
    const derates = await storeDerate();
    const [derate] = derates;
    const id = derate?.id ?? '';
    const update = (inquiry: ReturnType<typeof inquiryOf>, madeMs: number) =>
      store.updateDerates({ machineId: 'm', derates, withdrawnIds: [], inquiries: [{ inquiry, madeMs }] });
    expect(await update(inquiryOf(id, 'not known'), 1)).toEqual({ revisions: 1 });
    expect(await update(inquiryOf(id, 'not known'), 2)).toEqual({ revisions: 0 });
    expect(await update(inquiryOf(id, 'nobody knows'), 3)).toEqual({ revisions: 0 });
    expect(await update(inquiryOf(id, 'the sensor', 'found'), 4)).toEqual({ revisions: 1 });
    const history = await store.listInquiries(id);
    expect(
      history.map(({ revision, madeMs, inquiry, changes }) => [revision, madeMs, inquiry.summary, changes]),
    ).toEqual([
      [1, 1, 'nobody knows', []],
      [2, 4, 'the sensor', ['the verdict was unknown and is found']],
    ]);
    const { items } = await store.listDerates({ machineId: 'm', limit: 5 });
    expect(items).toEqual([{ derate, latest: history[1] }]);
    expect(await store.getDerate(id)).toEqual({ derate, latest: history[1], isWithdrawn: false });
    expect(await store.getDerate('none')).toBeNull();
  });

  it('keep fifty answers, the first among them', async () => {
    const derates = await storeDerate();
    const id = derates[0]?.id ?? '';
    for (let at = 1; at <= 60; at++) {
      const inquiry = inquiryOf(id, `answer ${at}`, at % 2 === 0 ? 'found' : 'unknown');
      await store.updateDerates({ machineId: 'm', derates, withdrawnIds: [], inquiries: [{ inquiry, madeMs: at }] });
    }
    const history = await store.listInquiries(id);
    expect(history).toHaveLength(50);
    expect(history.map(({ revision }) => revision).slice(0, 2)).toEqual([1, 12]);
    expect(history.at(-1)?.inquiry.summary).toBe('answer 60');
  });

  it('leave the list when they are withdrawn, and are still found with their history', async () => {
    const derates = await storeDerate();
    const id = derates[0]?.id ?? '';
    const inquiries = [{ inquiry: inquiryOf(id, 'unknown'), madeMs: 1 }];
    await store.updateDerates({ machineId: 'm', derates, withdrawnIds: [], inquiries });
    await store.updateDerates({ machineId: 'm', derates: [], withdrawnIds: [id], inquiries: [] });
    expect((await store.listDerates({ machineId: 'm', limit: 5 })).items).toEqual([]);
    expect((await store.getDerate(id))?.isWithdrawn).toBe(true);
    expect(await store.listInquiries(id)).toHaveLength(1);
  });
});
