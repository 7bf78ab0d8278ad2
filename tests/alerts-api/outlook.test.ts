import { comparisonSchema, defOutlookAnswerSchema, noxAnswerSchema } from '@warmbrick/contracts';
import type { DefBatch } from '@warmbrick/store';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { changeOf, emptyRow, finding, quarterMs, seedMachine } from './fleet.js';
import { startTestApp, type TestApp } from './test-app.js';

let t: TestApp;
beforeEach(async () => {
  t = await startTestApp();
});
afterEach(() => t.app.close());

const dayMs = 86_400_000;
const fromMs = Date.parse('2026-03-02T00:00:00Z');
const toMs = fromMs + 20 * dayMs;
const get = async (url: string) => (await t.app.inject(url)).json();

describe('the DEF tank and the NOx conversion of a machine', () => {
  const def = {
    levelPct: 50,
    tankL: 40,
    limitPct: 10,
    learnedHours: 16,
    useLPerH: 1,
    spreadLPerH: 0.2,
    usedBy: 'dosing',
    hoursToLimit: 16,
    hoursToLimitLow: 14,
    hoursToLimitHigh: 18,
    tankTempC: -4,
    ambientTempC: -10,
    overnight: 'fuller-than-needed',
    marginK: 3,
  } as const;

  it('are told as the analysis left them, the level with its range', async () => {
    await seedMachine(t.store, { machineId: 'm1', fromMs, toMs });
    const change = changeOf({ machineId: 'm1', fromMs, toMs });
    const bins = [{ lowC: 250, highC: 300, conversionRatio: 0.8, baselineRatio: 0.92 }];
    const summary = change.summary === null ? null : { ...change.summary, def, noxBins: bins };
    await t.store.commit([{ ...change, summary }]);
    const tank = defOutlookAnswerSchema.parse(await get('/v1/machines/m1/def'));
    expect(tank.outlook).toEqual(def);
    // Own arithmetic: 8 h of 1 L/h are 20 % of 40 L; 1.645 x 0.2 L/h x sqrt(8 + 64/16) = 1.14 L, 2.8 % either way.
    expect(tank.levelsAhead.find(({ hours }) => hours === 8)).toEqual({
      hours: 8,
      levelPct: 30,
      lowPct: 27.2,
      highPct: 32.8,
    });
    expect(noxAnswerSchema.parse(await get('/v1/machines/m1/nox')).bins).toEqual(bins);
  });

  it('are empty, not wrong, for a machine that sends neither or was summed up by an older version', async () => {
    await seedMachine(t.store, { machineId: 'm1', fromMs, toMs });
    const change = changeOf({ machineId: 'm1', fromMs, toMs });
    const { def: _def, noxBins: _bins, suspectChannels: _suspects, ...older } = change.summary ?? {};
    await t.store.commit([{ ...change, summary: older as unknown as typeof change.summary }]);
    expect(defOutlookAnswerSchema.parse(await get('/v1/machines/m1/def'))).toMatchObject({
      outlook: null,
      levelsAhead: [],
    });
    expect(noxAnswerSchema.parse(await get('/v1/machines/m1/nox')).bins).toEqual([]);
  });

  it('are a problem for a machine that nobody knows', async () => {
    expect((await t.app.inject('/v1/machines/none/def')).statusCode).toBe(404);
    expect((await t.app.inject('/v1/machines/none/comparison')).statusCode).toBe(404);
  });
});

describe('a machine beside its like', () => {
  /** A day's work of eight hours, so much of each quarter idle. */
  const rowsOf = (idleRatio: (day: number) => number) =>
    Array.from({ length: 20 * 32 }, (_, k) => {
      const day = Math.floor(k / 32);
      const idleS = Math.round(900 * idleRatio(day));
      return emptyRow(fromMs + day * dayMs + (24 + (k % 32)) * quarterMs, {
        runningS: 900,
        idleS,
        workingS: 900 - idleS,
        inS: 900,
      });
    });
  const seed = (machineId: string, idleRatio: (day: number) => number, machineClass = 'wheel loader') =>
    seedMachine(t.store, {
      machineId,
      fromMs,
      toMs,
      rows: rowsOf(idleRatio),
      profile: { machineClass },
      findings: [finding(machineId, toMs - dayMs), finding(machineId, toMs - 2 * dayMs, { kind: 'engine-run' })],
    });

  it('stands out among five of its class and work, and its day of change is named', async () => {
    const wobble = (day: number) => 0.01 * (day % 3);
    for (const [k, ratio] of [0.2, 0.21, 0.22, 0.23].entries()) await seed(`m${k}`, (day) => ratio + wobble(day));
    await seed('idler', (day) => (day < 12 ? 0.2 : 0.4) + wobble(day));
    await seed('other-class', () => 0.9, 'haul truck');
    const answer = comparisonSchema.parse(await get('/v1/machines/idler/comparison'));
    expect(answer).toMatchObject({ peers: 4, hasMorePeers: false, group: 'wheel loader, medium work' });
    const idle = answer.figures.find(({ name }) => name === 'idle-share');
    expect(idle).toMatchObject({ groupSize: 5, standing: 'high', percentile: 90 });
    expect(idle?.value).toBeCloseTo(0.41, 1);
    expect(idle?.change?.since).toBe('2026-03-14T00:00:00.000Z');
    expect(idle?.change?.meanAfter).toBeCloseTo(0.41, 1);
    const counted = answer.figures.find(({ name }) => name === 'long-idles-per-day');
    expect(counted?.value).toBeCloseTo(1 / 7, 6);
    const usual = comparisonSchema.parse(await get('/v1/machines/m1/comparison'));
    expect(usual.figures.find(({ name }) => name === 'idle-share')).toMatchObject({ standing: 'usual', change: null });
  });

  it('has no figure and no place while it did not run', async () => {
    await seedMachine(t.store, { machineId: 'm1', fromMs, toMs });
    const { figures, group } = comparisonSchema.parse(await get('/v1/machines/m1/comparison'));
    expect(group).toContain('unknown work');
    for (const figure of figures) expect(figure).toMatchObject({ value: null, standing: 'unknown', change: null });
  });
});

describe('batches of DEF', () => {
  const batch: DefBatch = {
    id: 'b1',
    fleetId: 'main',
    name: 'tank 7',
    site: null,
    purchasedMs: fromMs,
    storageTempC: 15,
    quantityL: 1000,
    leftL: 500,
    note: '',
    recordedBy: 'test',
    recordedMs: fromMs,
  };

  it('are suspects when the machines filled from them lose conversion and others do not', async () => {
    t.store.listDefBatches = async () => [
      batch,
      { ...batch, id: 'b2', name: 'tank 8', purchasedMs: fromMs + 10 * dayMs },
    ];
    const fill = (machineId: string, atMs: number) =>
      finding(machineId, atMs, { kind: 'def-fill', endedMs: atMs + 60_000 });
    const loss = (machineId: string, atMs: number) => finding(machineId, atMs, { kind: 'nox-conversion' });
    for (let k = 0; k < 8; k++) {
      const id = `m${k}`;
      const isSecond = k < 4;
      const findings = isSecond
        ? [fill(id, fromMs + 11 * dayMs), loss(id, fromMs + 12 * dayMs)]
        : [fill(id, fromMs + 2 * dayMs)];
      await seedMachine(t.store, { machineId: id, fromMs, toMs, findings });
    }
    const { items, machines } = await get('/v1/def-batches');
    expect(machines).toBe(8);
    expect(items.map((one: { batch: string; isSuspect: boolean }) => [one.batch, one.isSuspect])).toEqual([
      ['tank 7', false],
      ['tank 8', true],
    ]);
    expect(items[1]).toMatchObject({ lostCount: 4, otherCount: 4, otherLostCount: 0 });
  });

  it('are none without any on record', async () => {
    t.store.listDefBatches = async () => [];
    expect(await get('/v1/def-batches')).toEqual({ items: [], machines: 0, hasMoreMachines: false });
  });
});
