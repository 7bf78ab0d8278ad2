/** What a set is judged on: one machine over one stretch of time, with its truth. */

import { builtInThresholds, type ThresholdValues } from '@warmbrick/analysis';
import type { Bench } from '../bench.js';
import { summaryThresholds } from '../bench.js';
import { judgeMachine, type MachineOutcome } from '../outcomes/judge.js';
import type { JudgingRule } from '../outcomes/judging-rule.js';
import type { TruthLabel } from '../outcomes/truth-label.js';

export interface JudgedUnit {
  readonly bench: Bench;
  readonly machineClass: string;
  /** First and last sample. */
  readonly fromMs: number;
  readonly toMs: number;
  /** Labels of the machine that lie within the stretch. */
  readonly labels: readonly TruthLabel[];
  readonly rules: readonly JudgingRule[];
  readonly withinMs?: number;
}

const dayMs = 86_400_000;
/** A stretch of so many days or more is shifted by whole days, so that labels keep their time of day. */
const daysToShift = 4;

/** Outcome of each set of values, in their order. */
export function judgeUnit(unit: JudgedUnit, candidates: readonly ThresholdValues[]): MachineOutcome[] {
  const outcomes = new Array<MachineOutcome>(candidates.length);
  for (const k of benchOrder(candidates)) {
    outcomes[k] = judgedBy(unit, candidates[k] as ThresholdValues, unit.labels);
  }
  return outcomes;
}

/**
 * Outcomes of one set when the labels lie elsewhere: shifted round the stretch by a share of it each (0..1), by whole days
 * where there are days enough. A set that knows something does worse by them than by the labels where they belong.
 */
export function judgeByChance(
  unit: JudgedUnit,
  values: ThresholdValues,
  shiftRatios: readonly number[],
): MachineOutcome[] {
  const spanMs = Math.max(1, unit.toMs - unit.fromMs);
  return shiftRatios.map((ratio) => {
    const byMs = shiftOf(spanMs, ratio);
    const round = (atMs: number) => unit.fromMs + ((atMs - unit.fromMs + byMs) % spanMs);
    const labels = unit.labels.map((label) => {
      const startedMs = round(Math.min(unit.toMs, Math.max(unit.fromMs, label.startedMs)));
      return {
        ...label,
        startedMs,
        endedMs: label.endedMs === null ? null : startedMs + label.endedMs - label.startedMs,
      };
    });
    return judgedBy(unit, values, labels);
  });
}

function shiftOf(spanMs: number, ratio: number): number {
  const days = Math.floor(spanMs / dayMs);
  if (days >= daysToShift) return dayMs * (1 + Math.floor(ratio * (days - 1)));
  return spanMs * (0.1 + 0.8 * ratio);
}

function judgedBy(unit: JudgedUnit, values: ThresholdValues, labels: readonly TruthLabel[]): MachineOutcome {
  const { bench, machineClass, fromMs, toMs, rules, withinMs } = unit;
  const { findings } = bench.findings({ version: 'tried', values });
  return judgeMachine({
    machineId: bench.machineId,
    machineClass,
    observedMs: toMs - fromMs,
    findings,
    labels,
    rules,
    ...(withinMs === undefined ? {} : { withinMs }),
  });
}

/** Sets that the observer cannot tell apart come after each other, so that it runs once for them. */
function benchOrder(candidates: readonly ThresholdValues[]): number[] {
  const keyOf = (values: ThresholdValues) =>
    summaryThresholds.map((name) => values[name] ?? builtInThresholds.values[name]);
  const keys = candidates.map(keyOf);
  return candidates
    .map((_, i) => i)
    .sort((a, b) => {
      const keyA = keys[a] as number[];
      const keyB = keys[b] as number[];
      const k = keyA.findIndex((value, at) => value !== keyB[at]);
      return k < 0 ? a - b : (keyA[k] as number) - (keyB[k] as number);
    });
}
