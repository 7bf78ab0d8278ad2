/** What the fold remembers of one machine: plain JSON, bounded, and the same after a crash. */

import type { Alert } from './alert.js';

/** The lowest value of a figure within one hour of machine time. */
export interface TrailPoint {
  readonly hourMs: number;
  readonly value: number;
}

export interface AlertingState {
  readonly version: 1;
  readonly machineId: string;
  /** Whether its samples come within a day: a machine of a recording is never silent. */
  readonly isWatched: boolean;
  /** Alerts that qualify, are active, release or are unknown. */
  readonly open: readonly Alert[];
  /** Figures that a rule watches for their rise, hour by hour. */
  readonly trails: Readonly<Record<string, readonly TrailPoint[]>>;
  /** Start of the last alert of each rule over a figure, so that no two have the same. */
  readonly lastStarts: Readonly<Record<string, number>>;
  /** Alerts that were not opened since too many were open. */
  readonly turnedAway: number;
}

/** Open alerts of a machine at most. Source: engineering judgement: more tell nobody anything. */
export const mostOpen = 100;
/** First hours of a trail, which do not count: models begin from nothing. Source: engineering judgement. */
export const settleHours = 12;
/** Hours of a trail. Source: the longest time that a rule may look back, two days, and the hour that is under way. */
export const trailHours = 49 + settleHours;

/** The state of a machine never heard of. */
export function initialAlertingState(machineId: string): AlertingState {
  return { version: 1, machineId, isWatched: false, open: [], trails: {}, lastStarts: {}, turnedAway: 0 };
}
