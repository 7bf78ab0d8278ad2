import { findingKinds, residencySums } from '@warmbrick/analysis';
import { findingListSchema, machineDetailSchema, machineListSchema } from '@warmbrick/contracts';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { changeOf, emptyRow, finding, quarterMs, seedMachine, workingRow } from './fleet.js';
import { startTestApp, type TestApp } from './test-app.js';

const dayMs = 86_400_000;
/** A quarter hour: 2025-05-14 10:30 UTC. */
const noonishMs = Date.UTC(2025, 4, 14, 10, 30);

let t: TestApp;
beforeEach(async () => {
  t = await startTestApp();
});
afterEach(() => t.app.close());

const getList = async (url: string) => machineListSchema.parse((await t.app.inject(url)).json());

describe('GET /v1/machines', () => {
  it('is empty before anything was taken in', async () => {
    expect(await getList('/v1/machines')).toEqual({ items: [], nextCursor: null });
  });

  it('gives the last 24 h of each machine’s own time, ending at its last sample rounded up to the quarter hour', async () => {
    const lastMs = noonishMs - quarterMs + 1;
    const startMs = noonishMs - dayMs;
    await seedMachine(t.store, {
      machineId: 'm1',
      fromMs: startMs - dayMs,
      toMs: lastMs,
      profile: { name: 'Loader 1', site: 'Skarnfell quarry', timeZone: 'Europe/Oslo' },
      rows: [
        workingRow(startMs - quarterMs),
        workingRow(startMs),
        emptyRow(startMs + quarterMs, { runningS: 600, idleS: 600, belowS: 600, belowReleaseS: 300, offS: 300 }),
      ],
      findings: [
        finding('m1', startMs - 1),
        finding('m1', startMs),
        finding('m1', startMs + 1000, { kind: 'hot-shutdown' }),
        finding('m1', startMs + 2000, { kind: 'hot-shutdown' }),
      ],
    });
    const [item] = (await getList('/v1/machines')).items;
    expect(item).toMatchObject({
      machineId: 'm1',
      name: 'Loader 1',
      site: 'Skarnfell quarry',
      lastSampleAt: new Date(lastMs).toISOString(),
      findingCounts: { 'idle-streak': 1, 'hot-shutdown': 2 },
    });
    expect(item?.day.startedAt).toBe(new Date(startMs).toISOString());
    expect(item?.day.runningS).toHaveLength(96);
    expect(item?.day.inS.slice(0, 3)).toEqual([900, 0, 0]);
    expect(item?.day.idleS.slice(0, 3)).toEqual([0, 600, 0]);
    expect(item?.day.unobservedS.slice(0, 3)).toEqual([0, 0, 900]);
    expect(item?.residency).toMatchObject({ runningS: 1500, workingS: 900, belowReleaseS: 300, maxExhaustTempC: 400 });
  });

  it('the sums are those of the strip', async () => {
    await seedMachine(t.store, {
      machineId: 'm1',
      fromMs: 0,
      toMs: noonishMs,
      rows: [workingRow(noonishMs - quarterMs)],
    });
    const [item] = (await getList('/v1/machines')).items;
    const sum = (column: number[] | undefined) => column?.reduce((a, b) => a + b, 0);
    for (const name of ['runningS', 'idleS', 'belowReleaseS', 'belowS', 'inS', 'aboveS', 'unobservedS'] as const) {
      expect(sum(item?.day[name]), name).toBe(item?.residency[name]);
    }
    expect(residencySums.every((name) => (item?.residency[name] ?? -1) >= 0)).toBe(true);
  });

  it('sorts by risk, pages by cursor, and takes a machine without a score last', async () => {
    for (const [machineId, score] of [
      ['a', 10],
      ['b', 90],
      ['c', null],
      ['d', 50],
      // Years apart from the others: its day is its own.
      ['e', 70],
    ] as const) {
      const toMs = machineId === 'e' ? noonishMs - 800 * dayMs : noonishMs;
      await seedMachine(t.store, { machineId, score, fromMs: 0, toMs, rows: [workingRow(toMs - quarterMs)] });
    }
    const seen: string[] = [];
    let cursor: string | null = null;
    do {
      const tail: string = cursor === null ? '' : `&cursor=${encodeURIComponent(cursor)}`;
      const page = await getList(`/v1/machines?limit=2${tail}`);
      expect(page.items.every((item) => item.residency.runningS === 900)).toBe(true);
      seen.push(...page.items.map((item) => item.machineId));
      cursor = page.nextCursor;
    } while (cursor !== null);
    expect(seen).toEqual(['b', 'e', 'd', 'a', 'c']);
    expect((await getList('/v1/machines?sort=name')).items.map((item) => item.machineId)).toEqual([...'abcde']);
  });

  it('shows a change at once, and asks the store only once for what has not changed', async () => {
    await seedMachine(t.store, { machineId: 'm1', score: 10, fromMs: 0, toMs: noonishMs });
    let lists = 0;
    const { listMachines } = t.store;
    t.store.listMachines = (page) => {
      lists++;
      return listMachines(page);
    };
    await Promise.all([1, 2, 3].map(() => getList('/v1/machines')));
    expect(lists).toBe(1);
    const change = changeOf({ machineId: 'm1', score: 80, fromMs: 0, toMs: noonishMs });
    await t.store.commit([change], null);
    t.events.publishChange(change);
    expect((await getList('/v1/machines')).items[0]?.score?.value).toBe(80);
  });
});

describe('GET /v1/machines/:machineId', () => {
  it('adds everything observed so far', async () => {
    await seedMachine(t.store, {
      machineId: 'm1',
      fromMs: 1000,
      toMs: noonishMs,
      profile: { catalystFamily: 'vanadia' },
    });
    const detail = machineDetailSchema.parse((await t.app.inject('/v1/machines/m1')).json());
    expect(detail).toMatchObject({
      window: { lowC: 350, highC: 450 },
      observed: { from: '1970-01-01T00:00:01.000Z', coverageRatio: 0.9 },
      longestIdleS: 1200,
      exhaustSourceS: { scrInletTempC: 3600 },
      thresholdSet: 'built-in-1',
    });
    expect(detail.histogramS).toHaveLength(80);
  });
});

describe('GET /v1/machines/:machineId/findings', () => {
  it('takes all kinds there are in one question', async () => {
    await seedMachine(t.store, { machineId: 'm1', fromMs: 0, toMs: noonishMs });
    const answer = await t.app.inject(`/v1/machines/m1/findings?kind=${findingKinds.join(',')}`);
    expect(answer.statusCode).toBe(200);
  });

  it('filters by kind and time', async () => {
    const findings = [
      finding('m1', noonishMs),
      finding('m1', noonishMs + 1000, { kind: 'hot-shutdown', endedMs: null }),
      finding('m1', noonishMs + 2000, { kind: 'data-gap' }),
    ];
    await seedMachine(t.store, { machineId: 'm1', fromMs: 0, toMs: noonishMs + 9000, findings });
    const kindsFor = async (query: string) => {
      const answer = await t.app.inject(`/v1/machines/m1/findings?${query}`);
      return findingListSchema.parse(answer.json()).items.map(({ kind }) => kind);
    };
    expect(await kindsFor('')).toEqual(['data-gap', 'hot-shutdown', 'idle-streak']);
    expect(await kindsFor('kind=idle-streak,data-gap')).toEqual(['data-gap', 'idle-streak']);
    expect(await kindsFor('from=2025-05-14T12:30:01%2B02:00')).toEqual(['data-gap', 'hot-shutdown']);
    expect(await kindsFor('to=2025-05-14T10:30:01Z')).toEqual(['idle-streak']);
    const page = findingListSchema.parse((await t.app.inject('/v1/machines/m1/findings?limit=1')).json());
    expect(page.items).toHaveLength(1);
    expect(page.nextCursor).not.toBeNull();
  });
});
