/** Findings: what the analysis says happened, with the numbers that made it. */

export const findingKinds = [
  'engine-run',
  'idle-streak',
  'cold-dwell',
  'hot-shutdown',
  'early-load',
  'data-gap',
  'regeneration',
  'regeneration-inhibited',
  'def-fill',
  'def-drop',
  'def-low',
  'def-empty-forecast',
  'def-consumption',
  'def-quality',
  'def-frost',
  'def-heater',
  'nox-conversion',
  'air-filter',
  'sensor-suspect',
  'cold-start',
  'derate',
  'service-overdue',
  'inducement-step',
] as const;
export type FindingKind = (typeof findingKinds)[number];

/**
 * Kinds that rest on what people wrote down or on fault codes, not on samples: no detector makes them, and no re-run takes them
 * back.
 */
export const kindsBesideSamples: readonly FindingKind[] = ['service-overdue', 'inducement-step'];
/** `emittedMs` of such a finding: before every sample. */
export const beforeSamplesMs = -1;

/** From least to most urgent. */
export const severities = ['info', 'notice', 'warning', 'severe'] as const;
export type Severity = (typeof severities)[number];

export type FindingValue = number | boolean | string | null;

export interface Finding {
  /** Made of machine, kind and start, so that writing a finding twice is one finding. */
  readonly id: string;
  readonly machineId: string;
  readonly kind: FindingKind;
  readonly startedMs: number;
  /** null while it is still going on. */
  readonly endedMs: number | null;
  readonly severity: Severity;
  /** The figures that make the finding. Units end the names. */
  readonly values: Readonly<Record<string, FindingValue>>;
  /** What speaks for or against it. */
  readonly evidence: Readonly<Record<string, FindingValue>>;
  /** Version of the threshold set that made it. */
  readonly thresholdSet: string;
  /** Machine time up to which samples were known when it was last made; a re-run from before that makes it anew. */
  readonly emittedMs: number;
}

/** The identity of a finding. */
export function findingId(machineId: string, kind: FindingKind, startedMs: number): string {
  return `${machineId}~${kind}~${startedMs}`;
}
