/** Residency rows: how one quarter of an hour was spent. Hours, shifts and days are sums of rows. */

/** Length of a row. Every time zone and every usual shift starts on a quarter of an hour. */
export const residencyRowS = 900;

/**
 * Seconds of one quarter hour. Invariants:
 * runningS = belowS + inS + aboveS + noTemperatureS; belowS includes belowReleaseS;
 * runningS = idleS + lightS + workingS; idleS includes coolingDownS.
 */
export interface ResidencyRow {
  readonly startedMs: number;
  readonly runningS: number;
  readonly idleS: number;
  readonly coolingDownS: number;
  readonly lightS: number;
  readonly workingS: number;
  readonly belowS: number;
  readonly inS: number;
  readonly aboveS: number;
  readonly belowReleaseS: number;
  readonly noTemperatureS: number;
  readonly crankingS: number;
  readonly offS: number;
  readonly unobservedS: number;
  /** Highest exhaust temperature while running, null when none was seen. */
  readonly maxExhaustTempC: number | null;
  /** Fuel burnt as far as the fuel rate was sent, in litres. */
  readonly fuelL: number;
}

/** Names of the fields that add up over time. */
export const residencySums = [
  'runningS',
  'idleS',
  'coolingDownS',
  'lightS',
  'workingS',
  'belowS',
  'inS',
  'aboveS',
  'belowReleaseS',
  'noTemperatureS',
  'crankingS',
  'offS',
  'unobservedS',
  'fuelL',
] as const satisfies readonly (keyof ResidencyRow)[];

/** Width and count of the bins of the temperature histogram: 0-10 C, 10-20 C, ... with both ends open. */
export const histogramBinC = 10;
export const histogramBins = 80;
