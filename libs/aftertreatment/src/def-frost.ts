/** DEF in frost: room for the ice, and heat to thaw it. */

import { defFreezingPointC } from './def-properties.js';
import { defDensityKgPerL } from './physical-constants.js';

/** Growth of DEF in freezing. Source: read in several pages of advice to users (about 7 %). */
export const defIceGrowthRatio = 0.07;
/** Fullest tank that can freeze without pressing on its walls. Source: own arithmetic, 1 / 1.07. */
export const frostSafeFillRatio = 1 / (1 + defIceGrowthRatio);

/** Heat of fusion, kJ/kg, and heat capacity of the liquid, kJ/(kg K). Source: read in an encyclopaedia page on AUS 32. */
export const defFusionKJPerKg = 270;
const liquidKJPerKgK = 3.51;
/** Heat capacity of the ice, kJ/(kg K). Source: from memory. */
const iceKJPerKgK = 2;

/** What to leave in the tank overnight in frost. Source: common practice, about a quarter; the bounds are engineering judgement. */
const quarterLowRatio = 0.15;
const quarterHighRatio = 0.35;

/**
 * `no-frost`: it stays above freezing. `burst-risk`: too full to freeze. `fuller-than-needed`: thaws slowly and leaves little room
 * for warm fluid. `about-a-quarter`: as practice wants it. `too-low`: little left to work with in the morning.
 */
export type FrostAdvice = 'no-frost' | 'burst-risk' | 'fuller-than-needed' | 'about-a-quarter' | 'too-low' | 'unknown';

/**
 * Advice on a tank's level before a night.
 *
 * Units: level 0..1, lowest temperature to come in degC. Range: any. Missing: `unknown` when either is NaN, except that no
 * level is needed to say `no-frost`.
 * Source: burst limit own arithmetic from 7 % growth; about a quarter is common practice.
 */
export function frostAdvice(fillRatio: number, lowestTempC: number): FrostAdvice {
  if (lowestTempC > defFreezingPointC) return 'no-frost';
  if (lowestTempC !== lowestTempC || fillRatio !== fillRatio) return 'unknown';
  if (fillRatio > frostSafeFillRatio) return 'burst-risk';
  if (fillRatio > quarterHighRatio) return 'fuller-than-needed';
  return fillRatio >= quarterLowRatio ? 'about-a-quarter' : 'too-low';
}

/**
 * Heat that takes DEF of 32.5 % from one temperature to another, kJ.
 *
 * Units: litres at 20 degC, degC. Range: nought when the end is not warmer. Melting counts when the way leads through
 * -11.5 degC; at exactly -11.5 it counts as frozen. Missing: NaN gives NaN.
 * Source: fusion and liquid read, ice from memory; sums own arithmetic.
 */
export function thawHeatKJ(litres: number, startTempC: number, endTempC: number): number {
  const sum = litres + startTempC + endTempC;
  if (sum !== sum) return sum;
  if (endTempC <= startTempC) return 0;
  const iceK = Math.max(0, Math.min(endTempC, defFreezingPointC) - startTempC);
  const liquidK = Math.max(0, endTempC - Math.max(startTempC, defFreezingPointC));
  const isMelting = startTempC <= defFreezingPointC && endTempC > defFreezingPointC;
  const perKg = iceKJPerKgK * iceK + (isMelting ? defFusionKJPerKg : 0) + liquidKJPerKgK * liquidK;
  return litres * defDensityKgPerL * perKg;
}

/** How a tank is heated. */
export interface Thaw {
  readonly litres: number;
  readonly startTempC: number;
  readonly endTempC: number;
  /** Heat into the DEF, less what the tank loses. */
  readonly netHeatW: number;
}

/**
 * Seconds to thaw and warm an amount of DEF.
 *
 * Range: nought and more. Missing: null when the heater gives nothing net but heat is needed, or when a NaN comes in.
 * Source: own arithmetic. Rules ask for dosing within 70 minutes of a start (from memory).
 */
export function thawTimeS({ litres, startTempC, endTempC, netHeatW }: Thaw): number | null {
  const heatKJ = thawHeatKJ(litres, startTempC, endTempC);
  if (heatKJ === 0) return 0;
  return heatKJ > 0 && netHeatW > 0 ? (heatKJ * 1000) / netHeatW : null;
}
