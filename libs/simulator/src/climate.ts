/** Ambient temperature by time of day. */

import { createRandom, seedFrom } from './random.js';

export interface Climate {
  readonly meanTempC: number;
  /** Half of what the day is warmer than the night. */
  readonly swingC: number;
  /** Deviation of one day's mean from the climate's. */
  readonly daySpreadC: number;
}

/** Local hour at which the day is warmest. Source: engineering judgement. */
const warmestHour = 14.5;

/** Mean temperature of one day of this climate. */
export function dayMeanTempC(climate: Climate, day: number, seed: number): number {
  return climate.meanTempC + climate.daySpreadC * createRandom(seedFrom(seed, 'climate', day)).normal();
}

/** Ambient temperature in degC at a local hour (0-24), going smoothly from one day's mean to the next day's. */
export function ambientTempC(
  climate: Climate,
  means: readonly [today: number, tomorrow: number],
  hour: number,
): number {
  const mean = means[0] + ((means[1] - means[0]) * hour) / 24;
  return mean + climate.swingC * Math.cos(((hour - warmestHour) / 24) * 2 * Math.PI);
}
