/** One lump of an exhaust train: a mass of ceramic and steel that gas flows through. */

export interface LumpStep {
  /** Temperature of the lump now. */
  readonly tempC: number;
  readonly gasTempC: number;
  readonly ambientTempC: number;
  readonly flowKgPerH: number;
  readonly cpKJPerKgK: number;
  readonly heatCapacityKJPerK: number;
  /** Loss to the surroundings. */
  readonly lossWPerK: number;
  readonly elapsedS: number;
}

/** Seconds in an hour. */
const hourS = 3600;

/**
 * Temperature of the lump after the elapsed time, by the exact solution for constant inputs.
 *
 * Range: between the temperatures given; any elapsed time, in any number of steps, gives the same answer.
 * Source: domain notes 5.3, Mc dT/dt = m cp (Tgas - T) + hA (Tamb - T); gas leaves at the temperature of the lump.
 */
export function stepLump(step: LumpStep): number {
  const gasWPerK = (step.flowKgPerH * step.cpKJPerKgK * 1000) / hourS;
  const totalWPerK = gasWPerK + step.lossWPerK;
  if (!(totalWPerK > 0)) return step.tempC;
  const finalTempC = (gasWPerK * step.gasTempC + step.lossWPerK * step.ambientTempC) / totalWPerK;
  const tauS = (step.heatCapacityKJPerK * 1000) / totalWPerK;
  return approach(step.tempC, finalTempC, step.elapsedS / tauS);
}

/** A first-order approach to a target over a number of time constants, exact for a constant target. */
export function approach(value: number, target: number, timeConstants: number): number {
  return target + (value - target) * Math.exp(-timeConstants);
}
