/** Both sides of a comparison judged by what really happened. */

import type { OutcomeDocument } from '@warmbrick/contracts';
import { createRandom, seedFrom } from '@warmbrick/simulator';
import {
  figureInterval,
  figureNames,
  type JudgingRule,
  judgeMachine,
  type MachineComparison,
  type MachineOutcome,
  outcomeFigures,
  type TruthLabel,
  type Weighing,
} from '@warmbrick/tuning';

export interface Judging {
  readonly labels: readonly TruthLabel[];
  readonly rules: readonly JudgingRule[];
  readonly weighing: Weighing;
}

/** Counts and figures of each side with 90 % intervals over machines; labels out of a machine's samples do not count. */
export function judgeComparison(
  comparisons: readonly MachineComparison[],
  judging: Judging,
): { readonly before: OutcomeDocument; readonly after: OutcomeDocument } {
  const side = (name: 'before' | 'after') =>
    outcomeOf(
      comparisons.map((one) => judged(one[name], judging)),
      judging.weighing,
    );
  return { before: side('before'), after: side('after') };
}

function judged(trial: MachineComparison['before'], { labels, rules }: Judging): MachineOutcome {
  const fromMs = trial.summary?.observed.fromMs ?? 0;
  const toMs = trial.summary?.observed.toMs ?? 0;
  const own = labels.filter(
    ({ machineId, startedMs, endedMs }) =>
      machineId === trial.machineId && startedMs <= toMs && (endedMs ?? startedMs) >= fromMs,
  );
  const { machineId, machineClass, findings } = trial;
  return judgeMachine({ machineId, machineClass, observedMs: toMs - fromMs, findings, labels: own, rules });
}

function outcomeOf(outcomes: readonly MachineOutcome[], weighing: Weighing): OutcomeDocument {
  const sum = (name: 'labels' | 'hits' | 'misses' | 'raised' | 'falseAlarms') =>
    outcomes.reduce((total, one) => total + one[name], 0);
  const figures = outcomeFigures(outcomes, weighing);
  const entries = figureNames.map((name) => {
    const value = Number.isFinite(figures[name]) ? figures[name] : null;
    const interval = figureInterval(outcomes, name, { ...weighing, random: createRandom(seedFrom(1, name)) });
    return [name, { value, low: interval?.low ?? null, high: interval?.high ?? null }] as const;
  });
  return {
    labels: sum('labels'),
    hits: sum('hits'),
    misses: sum('misses'),
    raised: sum('raised'),
    falseAlarms: sum('falseAlarms'),
    figures: Object.fromEntries(entries),
  };
}
