/** Running time split by catalyst temperature, in the order cold to hot. */

import type { BrickKind } from './lay-bricks.js';

export interface ResidencyTimes {
  readonly runningS: number;
  readonly belowReleaseS: number;
  readonly belowS: number;
  readonly inS: number;
  readonly aboveS: number;
  readonly noTemperatureS: number;
}

export interface ResidencyShare {
  readonly kind: Exclude<BrickKind, 'off' | 'unobserved'>;
  readonly name: string;
  readonly lengthS: number;
  /** Share of the running time. */
  readonly shareRatio: number;
}

const kindNames = {
  cold: 'Below dosing release',
  below: 'Below the window',
  in: 'In the window',
  above: 'Above the window',
  unmeasured: 'Running, no temperature',
} as const;

/**
 * Splits running time into shares that add up to it.
 *
 * Units: seconds. Missing: shares are 0 when the engine did not run.
 */
export function residencyShares(times: ResidencyTimes): ResidencyShare[] {
  const lengths: readonly (readonly [ResidencyShare['kind'], number])[] = [
    ['cold', times.belowReleaseS],
    ['below', times.belowS - times.belowReleaseS],
    ['in', times.inS],
    ['above', times.aboveS],
    ['unmeasured', times.noTemperatureS],
  ];
  return lengths.map(([kind, lengthS]) => ({
    kind,
    name: kindNames[kind],
    lengthS: Math.max(0, lengthS),
    shareRatio: times.runningS > 0 ? Math.max(0, lengthS) / times.runningS : 0,
  }));
}
