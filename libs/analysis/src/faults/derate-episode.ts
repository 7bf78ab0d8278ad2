/** Derate episodes: stretches with less power than the engine has, joined from every sign of them. */

import type { InducementClass } from './inducement-class.js';

/** What told of the derate. */
export const derateSigns = [
  'inducement-severity',
  'torque-limit',
  'derate-request',
  'torque-mode',
  'derate-code',
  'inducement-code',
  'configured-code',
] as const;
export type DerateSign = (typeof derateSigns)[number];

/** `low` leaves most of the power, `severe` half of it or less; `unclear` when no sign tells how much. */
export type DerateLevel = 'unclear' | 'low' | 'severe';

export interface DerateEpisode {
  readonly id: string;
  readonly machineId: string;
  readonly startedMs: number;
  /** null while it goes on. */
  readonly endedMs: number | null;
  readonly level: DerateLevel;
  readonly signs: readonly DerateSign[];
  /** Findings of kind `derate` and fault episodes that make it. */
  readonly findingIds: readonly string[];
  readonly codeIds: readonly string[];
  /** What the codes themselves say it is about; null when they don't. */
  readonly saidClass: InducementClass | null;
  /** Largest broadcast severity of SPN 5246; null when it was not sent. */
  readonly peakSeverity: number | null;
  /** Least share of the usual torque that was left, 0..1; null when no sign tells. */
  readonly leastTorqueRatio: number | null;
  /** Most power that was missing: rated power times what was taken; null when no sign tells. */
  readonly lostPowerKW: number | null;
  /** Engine hours run under it; null when only codes tell of it. */
  readonly runningH: number | null;
  /** Hours of full work that were lost: running hours weighed with the share of power taken; null likewise. */
  readonly lostH: number | null;
}
