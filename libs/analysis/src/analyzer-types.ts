/** The face of the analysis towards everything that feeds it. */

import type { MachineProfile, SampleBlock } from '@warmbrick/signals';
import type { Finding } from './finding.js';
import type { ResidencyRow } from './residency-row.js';
import type { MachineSummary } from './summary.js';
import type { ThresholdSet } from './threshold-set.js';

/** What one block changed. A finding or row with an id or start seen before replaces the earlier one. */
export interface AnalysisResult {
  readonly findings: readonly Finding[];
  readonly rows: readonly ResidencyRow[];
}

/** The analyser's state as plain JSON; under 8 KiB. */
export interface AnalyzerSnapshot {
  readonly version: number;
  readonly machineId: string;
  readonly thresholdSet: string;
  readonly states: Readonly<Record<string, unknown>>;
}

/** One machine's analysis. Blocks must arrive in order of time, each later than the one before. */
export interface Analyzer {
  readonly machineId: string;
  /** Errors: throws on a block that is not strictly later than what was analysed (a bug of the caller). */
  push(block: SampleBlock): AnalysisResult;
  /** null before the first sample. */
  summary(): MachineSummary | null;
  snapshot(): AnalyzerSnapshot;
}

export interface AnalyzerOptions {
  readonly machineId: string;
  readonly profile: MachineProfile;
  readonly thresholds: ThresholdSet;
  /** Continue from here instead of from nothing. */
  readonly snapshot?: AnalyzerSnapshot;
}
