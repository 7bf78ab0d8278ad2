/** A whole search: split, judge, seek, then judge the best on machines that it was not fitted to. */

import { createHash } from 'node:crypto';
import type { ThresholdSet, ThresholdValues } from '@warmbrick/analysis';
import { profileWindow } from '@warmbrick/signals';
import { createRandom, type Random, seedFrom } from '@warmbrick/simulator';
import {
  cheapest,
  createSpace,
  type Evaluation,
  evolutionSeeker,
  type FigureName,
  figureInterval,
  figureNames,
  gridSeeker,
  judgeGain,
  type MachineOutcome,
  outcomeFigures,
  paretoFront,
  randomSeeker,
  runSearch,
  type Seeker,
  type Sensitivity,
  searchWarnings,
  sensitivityOf,
  sensitivityPoints,
  type ThresholdAxis,
  type ThresholdSpace,
  type Weighing,
} from '@warmbrick/tuning';
import { createJudge, type Judge } from './create-judge.js';
import type { JudgePool } from './judge-pool.js';
import { figuresOf, type HeldOutSet, type TriedSet, type TuningDocument } from './tuning-document.js';
import { openJournal } from './tuning-journal.js';
import type { TunedUnit } from './unit-task.js';

export const searchMethods = ['evolve', 'random', 'grid'] as const;
export type SearchMethod = (typeof searchMethods)[number];

export interface TuningPlan {
  readonly base: ThresholdSet;
  readonly axes: readonly ThresholdAxis[];
  readonly method: SearchMethod;
  readonly trials: number;
  readonly seed: number;
  readonly objectives: readonly FigureName[];
  readonly weighing: Weighing;
  readonly tuning: readonly TunedUnit[];
  readonly heldOut: readonly TunedUnit[];
  readonly partAtMs: number | null;
  readonly fingerprint: string;
  readonly journalPath?: string;
}

export interface TuningHooks {
  readonly pool: JudgePool;
  readonly onProgress: (judged: number, wanted: number) => void;
  readonly isCancelled: () => boolean;
}

/** Shifts of the labels that a cost is compared with. Source: common practice: 199 for a level of 5 %. */
const chanceShifts = 199;

/**
 * Runs a search. The same plan gives the same document, on any number of threads, in one go or in several by the journal.
 *
 * Errors: `bad-journal`; those of the file system.
 */
export async function runTuning(plan: TuningPlan, hooks: TuningHooks): Promise<TuningDocument> {
  const windows = [...plan.tuning, ...plan.heldOut].map(({ profile }) => profileWindow(profile));
  const space = createSpace(plan.axes, plan.base, windows);
  const judge = createJudge(plan, hooks.pool, openJournal(plan.journalPath, fingerprintOf(plan)));
  const { evaluations, isCancelled } = await runSearch({
    space,
    seeker: seekerOf(plan, space),
    trials: plan.trials,
    judge: judge.onTuning,
    weighing: plan.weighing,
    onProgress: (judged) => hooks.onProgress(judged, plan.trials),
    isCancelled: hooks.isCancelled,
  });
  const best = cheapest(evaluations);
  const first = evaluations[0] as Evaluation;
  const [bestOut = [], baseOut = []] = await judge.onHeldOut([best.values, first.values]);
  const random = createRandom(seedFrom(plan.seed, 'verdict'));
  const shifts = plan.heldOut.map(() => Array.from({ length: chanceShifts }, () => random.next()));
  const byChance = await judge.byChance(best.values, shifts);
  const heldOut = (one: Evaluation, outcomes: readonly MachineOutcome[]) => heldOutSet(plan, one, outcomes);
  return {
    base: plan.base.version,
    method: plan.method,
    seed: plan.seed,
    objectives: plan.objectives,
    axes: plan.axes,
    weighing: plan.weighing,
    rules: (plan.tuning[0] ?? plan.heldOut[0])?.rules ?? [],
    judged: evaluations.length,
    isCancelled,
    samples: [...plan.tuning, ...plan.heldOut].reduce((sum, unit) => sum + unit.samples, 0),
    labels: { tuning: labelsOf(best.outcomes), heldOut: labelsOf(bestOut) },
    split: { tuning: machinesOf(plan.tuning), heldOut: machinesOf(plan.heldOut), atMs: plan.partAtMs },
    best: { tuning: tried(space, best), heldOut: heldOut(best, bestOut) },
    before: { tuning: tried(space, first), heldOut: heldOut(first, baseOut) },
    verdict: judgeGain({ best: bestOut, base: baseOut, byChance, weighing: plan.weighing, random }),
    warnings: searchWarnings({
      space,
      best,
      heldOutBest: bestOut,
      heldOutBase: baseOut,
      weights: plan.weighing.weights,
    }),
    front: paretoFront(evaluations, plan.objectives).map((one) => tried(space, one)),
    sensitivity: await sensitivities(plan, { space, best, judge }),
  };
}

function seekerOf(plan: TuningPlan, space: ThresholdSpace): Seeker {
  const random: Random = createRandom(seedFrom(plan.seed, 'search'));
  if (plan.method === 'grid') {
    const perAxis = Math.max(2, Math.floor(plan.trials ** (1 / plan.axes.length)));
    return gridSeeker(plan.axes.length, perAxis);
  }
  return plan.method === 'random' ? randomSeeker(plan.axes.length, random) : evolutionSeeker(space.start, random);
}

/** Everything that outcomes hang on; a journal is only good for the same. */
function fingerprintOf({ base, axes, tuning, fingerprint }: TuningPlan): string {
  const judgedBy = tuning.map(({ machineId, fromMs, toMs, samples, labels, rules, withinMs, profile }) => ({
    machineId,
    fromMs,
    toMs,
    samples,
    labels,
    rules,
    withinMs,
    profile,
  }));
  return createHash('sha256')
    .update(JSON.stringify({ base: base.values, axes: axes.map(({ name }) => name), judgedBy, fingerprint }))
    .digest('hex');
}

async function sensitivities(
  plan: TuningPlan,
  found: { readonly space: ThresholdSpace; readonly best: Evaluation; readonly judge: Judge },
): Promise<Sensitivity[]> {
  const { space, best, judge } = found;
  const all: Sensitivity[] = [];
  for (const [k, axis] of plan.axes.entries()) {
    const sets = sensitivityPoints(best.point, k)
      .map((point) => space.valuesAt(point))
      .filter(space.isAllowed);
    const outcomes = await judge.onTuning(sets);
    const course = sets.map((values, i) => ({ value: values[axis.name], cost: costOn(plan, outcomes[i] ?? []) }));
    all.push(sensitivityOf(axis, { value: best.values[axis.name], cost: best.figures.costPerMachineMonth }, course));
  }
  return all;
}

function costOn(plan: TuningPlan, outcomes: readonly MachineOutcome[]): number {
  return outcomeFigures(outcomes, plan.weighing).costPerMachineMonth;
}

function tried(space: ThresholdSpace, { values, figures }: Evaluation): TriedSet {
  return { values: moved(space, values), figures: figuresOf(figures) };
}

function moved(space: ThresholdSpace, values: ThresholdValues): Partial<ThresholdValues> {
  return Object.fromEntries(space.axes.map(({ name }) => [name, values[name]]));
}

function heldOutSet(plan: TuningPlan, { values }: Evaluation, outcomes: readonly MachineOutcome[]): HeldOutSet {
  const interval = (name: FigureName) => {
    const random = createRandom(seedFrom(plan.seed, name));
    const found = figureInterval(outcomes, name, { ...plan.weighing, random });
    return found === null ? null : { low: found.low, high: found.high };
  };
  return {
    values: Object.fromEntries(plan.axes.map(({ name }) => [name, values[name]])),
    figures: figuresOf(outcomeFigures(outcomes, plan.weighing)),
    intervals: Object.fromEntries(figureNames.map((name) => [name, interval(name)])) as HeldOutSet['intervals'],
  };
}

function labelsOf(outcomes: readonly MachineOutcome[]): number {
  return outcomes.reduce((sum, one) => sum + one.labels, 0);
}

function machinesOf(units: readonly TunedUnit[]): string[] {
  return [...new Set(units.map(({ machineId }) => machineId))].sort();
}
