/** The figures of a machine that are compared with its class, and followed from day to day. */

import type { ResidencyTotals } from '../summary.js';
import { groupOf } from './class-comparison.js';

export const workFigureNames = [
  'idle-share',
  'too-cold-share',
  'below-release-share',
  'fuel-l-per-h',
  'long-idles-per-day',
  'hot-stops-per-run',
] as const;
export type WorkFigureName = (typeof workFigureNames)[number];

/** What happened in a time, beside how it was spent. */
export interface WorkEvents {
  readonly runs: number;
  readonly longIdles: number;
  readonly hotShutdowns: number;
}

/** Running time from which on figures of a time mean anything, s. Source: engineering judgement. */
export const leastFigureS = 3600;
/** Load that idle, light and loaded running stand for, %. Source: engineering judgement; idle is under 25 % by the profile. */
const loadPct = { idle: 10, light: 32, working: 65 } as const;
const dayS = 86_400;

/**
 * The figures of a time.
 *
 * Units: shares of the running time, or of the running time with a temperature, 0..1; L/h of running; counts a day of `lengthS`.
 * Missing: NaN where there is too little to tell; the fuel where none was sent.
 */
export function workFiguresOf(
  spent: ResidencyTotals,
  events: WorkEvents,
  lengthS: number,
): Readonly<Record<WorkFigureName, number>> {
  const { runningS, idleS, belowS, belowReleaseS, noTemperatureS, fuelL } = spent;
  const knownS = runningS - noTemperatureS;
  const isSeen = runningS >= leastFigureS;
  const isWarmthSeen = knownS >= leastFigureS;
  return {
    'idle-share': isSeen ? idleS / runningS : Number.NaN,
    'too-cold-share': isWarmthSeen ? belowS / knownS : Number.NaN,
    'below-release-share': isWarmthSeen ? belowReleaseS / knownS : Number.NaN,
    'fuel-l-per-h': isSeen && fuelL > 0 ? (3600 * fuelL) / runningS : Number.NaN,
    'long-idles-per-day': isSeen && lengthS > 0 ? (dayS * events.longIdles) / lengthS : Number.NaN,
    'hot-stops-per-run': events.runs > 0 ? events.hotShutdowns / events.runs : Number.NaN,
  };
}

/** Class and work of a machine by how it spent a time. Missing: "unknown work" where it did not run. */
export function workGroupOf(machineClass: string, { runningS, idleS, lightS, workingS }: ResidencyTotals): string {
  const meanPct = (loadPct.idle * idleS + loadPct.light * lightS + loadPct.working * workingS) / runningS;
  return groupOf(machineClass, runningS >= leastFigureS ? meanPct : Number.NaN);
}
