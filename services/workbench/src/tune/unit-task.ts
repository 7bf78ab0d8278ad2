/** The work of one unit, in this thread or another: candidates in, outcomes out. */

import type { FindingKind, ThresholdValues } from '@warmbrick/analysis';
import {
  createBench,
  type JudgedUnit,
  type JudgingRule,
  judgeByChance,
  judgeUnit,
  type MachineOutcome,
  type TruthLabel,
} from '@warmbrick/tuning';
import type { LaidUnit } from './lay-units.js';
import { readBlocks } from './unit-file.js';

/** A unit with what it is judged by; plain values, so that it can go to another thread. */
export interface TunedUnit extends LaidUnit {
  readonly labels: readonly TruthLabel[];
  readonly rules: readonly JudgingRule[];
  readonly withinMs: number;
}

export interface UnitTask {
  readonly unit: TunedUnit;
  readonly candidates: readonly ThresholdValues[];
  /** Given: the first candidate is judged by labels shifted so, instead of all candidates by the labels where they are. */
  readonly shiftRatios?: readonly number[];
}

/** Samples that are held ready at most in a thread. Source: engineering judgement: about 400 MB. */
const heldSamples = 4_000_000;

const held = new Map<string, JudgedUnit>();

/** Outcomes in the order of the candidates, or of the shifts. Errors: those of the file system. */
export function runUnitTask({ unit, candidates, shiftRatios }: UnitTask): MachineOutcome[] {
  const judged = judgedUnit(unit);
  if (shiftRatios === undefined) return judgeUnit(judged, candidates);
  return judgeByChance(judged, candidates[0] as ThresholdValues, shiftRatios);
}

function judgedUnit(unit: TunedUnit): JudgedUnit {
  const known = held.get(unit.path);
  held.delete(unit.path);
  const kinds = new Set<FindingKind>(unit.rules.flatMap((rule) => rule.findings));
  const { labels, rules, withinMs, fromMs, toMs } = unit;
  const bench = known?.bench ?? createBench(unit, readBlocks(unit.path), { kinds, isSparing: true });
  const judged = { bench, machineClass: unit.profile.machineClass, fromMs, toMs, labels, rules, withinMs };
  held.set(unit.path, judged);
  let samples = 0;
  for (const one of held.values()) samples += one.bench.samples;
  for (const [path, one] of held) {
    if (samples <= heldSamples || path === unit.path) break;
    held.delete(path);
    samples -= one.bench.samples;
  }
  return judged;
}

/** Lets go of everything held. */
export function forgetUnits(): void {
  held.clear();
}
