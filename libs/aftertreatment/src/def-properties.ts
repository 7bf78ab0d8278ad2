/** Density and freezing point of DEF against concentration and temperature. */

import { type Curve, interpolate } from './interpolate.js';

/** Where DEF of 32.5 % begins to crystallise, degC. Source: read in an encyclopaedia page on AUS 32 (-11.5 degC). */
export const defFreezingPointC = -11.5;

/** Warmest that DEF is reckoned as DEF, degC. Source: engineering judgement; it decomposes above 50 degC. */
const hottestLiquidC = 60;

/** Change of density with temperature, kg/m3 for each K. Source: from memory (-0.5, good to 0.1). */
const densityPerK = -0.5;
/**
 * Density at 20 degC against urea by mass, kg/m3: water 998.2, 32.5 % at 1090, the middle of ISO 22241-1's 1087-1093, and the
 * same slope on to 50 %. Source: own arithmetic; straight line.
 */
const densityAt20: Curve = { x: [0, 0.5], y: [998.2, 998.2 + ((1090 - 998.2) / 0.325) * 0.5] };

/** Freezing point against urea by mass. Source: 0 % and 40 % at 0 degC, the second from memory; eutectic as above; lines. */
const freezingByUrea: Curve = { x: [0, 0.325, 0.4], y: [0, defFreezingPointC, 0] };

/**
 * Density of liquid DEF, kg/m3.
 *
 * Units: degC; urea as a ratio by mass, 0.325 when left out. Range: temperatures below freezing or above 60 degC and
 * concentrations outside 0-0.5 are taken as the nearest end. Missing: NaN gives NaN.
 * Source: ISO 22241-1 for the middle; slope from memory; see the table.
 */
export function defDensityKgPerM3(tempC: number, ureaRatio = 0.325): number {
  const liquidC = Math.min(hottestLiquidC, Math.max(defFreezingPointC, tempC));
  return interpolate(densityAt20, ureaRatio) + densityPerK * (liquidC - 20);
}

/**
 * Urea by mass from a density that was measured at a temperature; the inverse of `defDensityKgPerM3`.
 *
 * Range: 0 to 0.5; densities outside are taken as the nearest end. Missing: NaN gives NaN. Good to half a percent point
 * at best, as the standard's own limits are.
 */
export function ureaRatioFromDensity(densityKgPerM3: number, tempC: number): number {
  const at20 = densityKgPerM3 - (defDensityKgPerM3(tempC, 0) - defDensityKgPerM3(20, 0));
  return interpolate({ x: densityAt20.y, y: densityAt20.x }, at20);
}

/**
 * Temperature at which the first crystals form.
 *
 * Units: urea as a ratio by mass, result in degC. Range: -11.5 to 0; lowest at 32.5 %. Outside 0-0.4 the nearest end.
 * Missing: NaN gives NaN. Source: eutectic read; straight lines to either side are own arithmetic.
 */
export function defFreezingC(ureaRatio: number): number {
  return interpolate(freezingByUrea, ureaRatio);
}
