/** What one threshold set makes of one machine's samples. */

import type { Finding, MachineSummary } from '@warmbrick/analysis';
import type { MachineProfile } from '@warmbrick/signals';

/** A finding, and when it was first said. */
export interface TrialFinding {
  readonly finding: Finding;
  /** Machine time at which it was first known, to the trial's step: what an alert could have gone by. */
  readonly raisedMs: number;
}

/** The machine that a trial is about. */
export interface TrialMachine {
  readonly machineId: string;
  readonly profile: MachineProfile;
}

/** What a trial says of the machine as a whole. */
export type TrialSummary = Pick<MachineSummary, 'observed' | 'residency' | 'histogramS' | 'load' | 'score'>;

/** The part of a summary that trials compare; null before the first sample. */
export function trialSummary(summary: MachineSummary | null): TrialSummary | null {
  if (summary === null) return null;
  const { observed, residency, histogramS, load, score } = summary;
  return { observed, residency, histogramS, load, score };
}

/** Result of one machine under one set. */
export interface MachineTrial {
  readonly machineId: string;
  readonly machineClass: string;
  readonly profile: MachineProfile;
  readonly thresholdSet: string;
  readonly samples: number;
  /** null for a machine without samples. */
  readonly summary: TrialSummary | null;
  /** In order of start, then kind. */
  readonly findings: readonly TrialFinding[];
}

/**
 * Machine time of one step of a trial: blocks are cut at its multiples, so that no cutting of the input changes what is
 * first known when. Unit: ms. Source: design decision, a quarter of an hour as the residency rows.
 */
export const usualStepMs = 900_000;
