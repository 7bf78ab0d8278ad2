/** What a search gives: the document of `warmbrick tune --json`, kept with a promoted set as its trial. */

import type { ThresholdValues } from '@warmbrick/analysis';
import type {
  FigureName,
  JudgingRule,
  OutcomeFigures,
  SearchWarning,
  Sensitivity,
  ThresholdAxis,
  VerdictFigures,
  Weighing,
} from '@warmbrick/tuning';

/** A set by the thresholds that were searched, with its figures; null where a figure has no value. */
export interface TriedSet {
  readonly values: Partial<ThresholdValues>;
  readonly figures: Readonly<Record<FigureName, number | null>>;
}

export interface HeldOutSet extends TriedSet {
  /** 90 % intervals over machines; null where they cannot be had. */
  readonly intervals: Readonly<Record<FigureName, { readonly low: number; readonly high: number } | null>>;
}

export interface TuningDocument {
  readonly base: string;
  readonly method: string;
  readonly seed: number;
  readonly objectives: readonly FigureName[];
  readonly axes: readonly ThresholdAxis[];
  readonly weighing: Weighing;
  readonly rules: readonly JudgingRule[];
  readonly judged: number;
  readonly isCancelled: boolean;
  readonly samples: number;
  readonly labels: { readonly tuning: number; readonly heldOut: number };
  /** Machines, or one list and a time where time was parted. */
  readonly split: {
    readonly tuning: readonly string[];
    readonly heldOut: readonly string[];
    readonly atMs: number | null;
  };
  readonly best: { readonly tuning: TriedSet; readonly heldOut: HeldOutSet };
  readonly before: { readonly tuning: TriedSet; readonly heldOut: HeldOutSet };
  readonly verdict: VerdictFigures;
  readonly warnings: readonly SearchWarning[];
  readonly front: readonly TriedSet[];
  readonly sensitivity: readonly Sensitivity[];
}

/** Figures for JSON: what has no value is null. */
export function figuresOf(figures: OutcomeFigures): TriedSet['figures'] {
  const entries = Object.entries(figures).map(([name, value]) => [name, Number.isFinite(value) ? value : null]);
  return Object.fromEntries(entries) as TriedSet['figures'];
}
