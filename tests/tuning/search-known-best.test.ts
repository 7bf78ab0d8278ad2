/** On simulated fleets whose best thresholds are known the search has to find them, and where there is no signal say so. */

import { builtInThresholds, type FindingKind, type ThresholdValues } from '@warmbrick/analysis';
import { createRandom, seedFrom } from '@warmbrick/simulator';
import {
  cheapest,
  createBench,
  createSpace,
  evolutionSeeker,
  gridSeeker,
  type JudgedUnit,
  judgeByChance,
  judgeGain,
  judgeUnit,
  outcomeFigures,
  randomSeeker,
  runSearch,
  type Seeker,
  sameKindRule,
  searchWarnings,
  splitMachines,
  type ThresholdAxis,
  type TruthLabel,
  usualAnalysts,
} from '@warmbrick/tuning';
import { beforeAll, describe, expect, it } from 'vitest';
import { type SimulatedRecord, simulateFleet, thinned } from './simulated.js';

const weighing = { weights: { miss: 5, falseAlarm: 2, look: 0, delayH: 0 }, analysts: usualAnalysts };
/** Machines that idle long, and machines that are switched off after two to six minutes. */
let idlers: SimulatedRecord[];
let starters: SimulatedRecord[];
beforeAll(() => {
  const plan = { machines: 12, days: 4, seed: 11, hasMishaps: false };
  idlers = simulateFleet({ ...plan, habit: 'idler' });
  // Every fifth second: the observer itself runs again for each set of this search.
  starters = simulateFleet({ ...plan, habit: 'cold-starter' }).map((record) => thinned(record, 5));
}, 240_000);

interface World {
  readonly tuning: JudgedUnit[];
  readonly heldOut: JudgedUnit[];
}

/** Machines with labels made by a rule of our own from what really happened. */
function worldOf(
  records: readonly SimulatedRecord[],
  kind: FindingKind,
  labelsOf: (record: SimulatedRecord) => TruthLabel[],
): World {
  const split = splitMachines(
    records.map(({ machineId, profile }) => ({ machineId, machineClass: profile.machineClass })),
    createRandom(1),
  );
  const unitOf = (record: SimulatedRecord): JudgedUnit => {
    const first = record.blocks[0]?.timeMs[0] as number;
    const last = record.blocks.at(-1)?.timeMs.at(-1) as number;
    return {
      bench: createBench(record, record.blocks, { kinds: new Set([kind]), isSparing: true }),
      machineClass: record.profile.machineClass,
      fromMs: first,
      toMs: last,
      labels: labelsOf(record).filter(({ startedMs }) => startedMs >= first && startedMs <= last),
      rules: [sameKindRule(kind)],
      withinMs: 60_000,
    };
  };
  const units = records.map(unitOf);
  const part = (ids: readonly string[]) => units.filter(({ bench }) => ids.includes(bench.machineId));
  return { tuning: part(split.tuning), heldOut: part(split.heldOut) };
}

function judge(units: readonly JudgedUnit[], candidates: readonly ThresholdValues[]) {
  const byUnit = units.map((unit) => judgeUnit(unit, candidates));
  return candidates.map((_, k) => byUnit.map((outcomes) => outcomes[k] as (typeof outcomes)[number]));
}

const costOn = (units: readonly JudgedUnit[], values: Partial<ThresholdValues>) =>
  outcomeFigures(judge(units, [{ ...builtInThresholds.values, ...values }])[0] ?? [], weighing).costPerMachineMonth;

async function search(
  world: World,
  axes: ThresholdAxis[],
  seeker: (start: readonly number[]) => Seeker,
  trials: number,
) {
  const space = createSpace(axes, builtInThresholds);
  const { evaluations } = await runSearch({
    space,
    seeker: seeker(space.start),
    trials,
    judge: async (candidates) => judge(world.tuning, candidates),
    weighing,
  });
  return { space, evaluations, best: cheapest(evaluations) };
}

function concluded(world: World, best: ThresholdValues) {
  const random = createRandom(5);
  const rows = world.heldOut.map((unit) =>
    judgeByChance(
      unit,
      best,
      Array.from({ length: 199 }, () => random.next()),
    ),
  );
  const byChance = Array.from({ length: 199 }, (_, k) => rows.map((row) => row[k] as (typeof row)[number]));
  const [outcomes, base] = judge(world.heldOut, [best, builtInThresholds.values]);
  return judgeGain({ best: outcomes ?? [], base: base ?? [], byChance, weighing, random });
}

/** Some labels are lost and some are made up, as with people. */
function withErrors(labels: TruthLabel[], record: SimulatedRecord): TruthLabel[] {
  const random = createRandom(seedFrom(record.machineId, 'errors'));
  const kept = labels.filter(() => random.next() > 0.1);
  const first = record.blocks[0]?.timeMs[0] as number;
  const extra = labels
    .filter(() => random.next() < 0.1)
    .map((label) => ({ ...label, startedMs: first, endedMs: first }));
  return [...kept, ...extra];
}

/** Idle that this site calls too long: 40 minutes. */
const idleWorld = () =>
  worldOf(idlers, 'idle-streak', (record) =>
    withErrors(
      record.truth.flatMap((event) =>
        event.kind === 'idle-streak' && event.durationS >= 2400
          ? [{ ...event, machineId: record.machineId, isRequired: true }]
          : [],
      ),
      record,
    ),
  );

/** Stops that this site calls too early: less than four minutes of cool-down, near which nobody minds either way. */
const stopWorld = () =>
  worldOf(starters, 'hot-shutdown', (record) =>
    withErrors(
      record.truth.flatMap((event) =>
        event.kind === 'stop' && event.coolDownS !== null && event.coolDownS < 255
          ? [{ ...event, kind: 'hot-shutdown', machineId: record.machineId, isRequired: event.coolDownS < 225 }]
          : [],
      ),
      record,
    ),
  );

const idleAxes: ThresholdAxis[] = [
  { name: 'idleLimitS', min: 600, max: 14_400 },
  { name: 'idleBlipS', min: 0, max: 600 },
];
const stopAxes: ThresholdAxis[] = [
  { name: 'cooldownWantedS', min: 10, max: 900 },
  { name: 'hotMetalC', min: 50, max: 600 },
];

describe('a search where the best is known', () => {
  it.each([
    ['evolution', (start: readonly number[]) => evolutionSeeker(start, createRandom(3)), 100],
    ['random', () => randomSeeker(2, createRandom(4)), 200],
    ['grid', () => gridSeeker(2, 12), 144],
  ] as const)(
    'finds idle limits by %s within a twentieth of the best on held-out machines',
    async (_, seeker, trials) => {
      const world = idleWorld();
      const { best } = await search(world, idleAxes, seeker, trials);
      const known = costOn(world.heldOut, { idleLimitS: 2400 });
      expect(known).toBeGreaterThan(0);
      expect(costOn(world.heldOut, best.values)).toBeLessThanOrEqual(1.05 * known);
      // The set searched from is clearly worse, so that there was something to find.
      expect(costOn(world.heldOut, {})).toBeGreaterThan(1.2 * known);
    },
  );

  it('finds the cool-down and says that it is better than before, and than chance', async () => {
    const world = stopWorld();
    const { best, space, evaluations } = await search(
      world,
      stopAxes,
      (start) => evolutionSeeker(start, createRandom(8)),
      150,
    );
    const known = costOn(world.heldOut, { cooldownWantedS: 240, hotMetalC: 50 });
    expect(costOn(world.heldOut, best.values)).toBeLessThanOrEqual(1.05 * known);
    expect(concluded(world, best.values)).toMatchObject({ verdict: 'better' });
    expect(evaluations[0]?.values).toEqual(builtInThresholds.values);
    expect(space.isAllowed(best.values)).toBe(true);
  });

  it('says that nothing is better where the set searched from is the best already', async () => {
    const world = worldOf(idlers, 'idle-streak', (record) =>
      record.truth.flatMap((event) =>
        event.kind === 'idle-streak' && event.durationS >= 3600
          ? [{ ...event, machineId: record.machineId, isRequired: true }]
          : [],
      ),
    );
    const { best } = await search(world, idleAxes, (start) => evolutionSeeker(start, createRandom(3)), 80);
    expect(concluded(world, best.values).verdict).toBe('no-better');
  });
});

describe('a search where there is no signal', () => {
  /** Labels anywhere in the running time, as if somebody had thrown darts at the calendar. */
  const dartWorld = (seed: number) =>
    worldOf(idlers, 'idle-streak', (record) => {
      const random = createRandom(seedFrom(seed, record.machineId));
      const runs = record.truth.filter((event) => event.kind === 'engine-run');
      return Array.from({ length: 6 }, () => {
        const run = runs[Math.floor(random.next() * runs.length)];
        const startedMs = run === undefined ? 0 : run.startedMs + random.next() * (run.endedMs - run.startedMs);
        return {
          machineId: record.machineId,
          kind: 'idle-streak',
          startedMs,
          endedMs: startedMs + 600_000,
          isRequired: true,
        };
      });
    });

  it.each([1, 2, 3])('says that there is none (labels drawn with seed %i)', async (seed) => {
    const world = dartWorld(seed);
    const { best } = await search(world, idleAxes, (start) => evolutionSeeker(start, createRandom(3)), 80);
    expect(concluded(world, best.values).verdict).toBe('no-signal');
  });

  it('warns of an optimum on a bound, of few labels and of a set that finds nothing', async () => {
    const world = worldOf(idlers, 'idle-streak', () => []);
    const { best, space } = await search(world, idleAxes, () => gridSeeker(2, 4), 20);
    const [heldOutBest, heldOutBase] = judge(world.heldOut, [best.values, builtInThresholds.values]);
    const codes = searchWarnings({
      space,
      best,
      heldOutBest: heldOutBest ?? [],
      heldOutBase: heldOutBase ?? [],
      weights: weighing.weights,
    }).map(({ code }) => code);
    expect(codes).toEqual(expect.arrayContaining(['on-bound', 'few-labels', 'nothing-found']));
  });
});
