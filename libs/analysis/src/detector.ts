/** The contract that every detector keeps; `tests/analysis/detector-laws.test.ts` checks its laws for each of them. */

import type { CatalystWindow, MachineProfile } from '@warmbrick/signals';
import { profileWindow } from '@warmbrick/signals';
import type { FindingKind, FindingValue, Severity } from './finding.js';
import type { ObservedBlock } from './observed-block.js';
import { type ThresholdSet, type ThresholdValues, thresholdsFor } from './threshold-set.js';

/** What a detector has to say: a finding without the names that the analyzer adds. */
export interface DetectorEvent {
  readonly kind: FindingKind;
  readonly startedMs: number;
  readonly endedMs: number | null;
  readonly severity: Severity;
  readonly values: Readonly<Record<string, FindingValue>>;
  readonly evidence: Readonly<Record<string, FindingValue>>;
}

/** Everything fixed that a detector may depend on. */
export interface DetectorConfig {
  readonly profile: MachineProfile;
  readonly window: CatalystWindow;
  readonly thresholds: ThresholdValues;
  readonly thresholdSet: string;
}

/**
 * A detector folds observed blocks into events.
 *
 * Laws: cutting a block anywhere changes nothing; neither does taking the state through JSON; nothing passed in is
 * changed; without a usable sample there is no event; it never throws on a well-typed block; its state is bounded; every
 * event carries the numbers that made it.
 */
export interface Detector<State> {
  readonly name: string;
  initial(): State;
  step(config: DetectorConfig, state: State, block: ObservedBlock): { state: State; events: DetectorEvent[] };
  /** The event that is still going on, as it stands after the last sample; null when there is none. */
  current(config: DetectorConfig, state: State): DetectorEvent | null;
}

/** Resolves the configuration of one machine. */
export function detectorConfig(profile: MachineProfile, set: ThresholdSet): DetectorConfig {
  return {
    profile,
    window: profileWindow(profile),
    thresholds: thresholdsFor(profile, set),
    thresholdSet: set.version,
  };
}
