/** Soot in a filter: what comes in against what burns off, solved exactly over a step with constant conditions. */

import { decayIntegralS, timeToChangeS } from './exponential.js';
import { sootRateByNo2PerS, sootRateByO2PerS } from './soot-oxidation.js';

/** What the filter sees. */
export interface SootConditions {
  /** Soot caught, g/s: engine-out soot times the filter's share. */
  readonly sootInGPerS: number;
  readonly tempC: number;
  /** NO2 and O2 at the filter's inlet as mole ratios. */
  readonly no2Ratio: number;
  readonly o2Ratio: number;
  /** Most soot that the NO2 can burn, g/s; Infinity where the exhaust flow is unknown. See `no2SootCapGPerS`. */
  readonly no2CapGPerS: number;
}

/** Share of the soot that a wall-flow filter keeps. Source: read in a data file of two national laboratories (0.98). */
export const sootCaughtRatio = 0.98;

/** Bounds of the search for a balance point, degC, and its halvings. */
const coolestBalanceC = 100;
const hottestBalanceC = 800;
const halvings = 60;

/** dm/dt = in - min(byNo2 m, cap) - byO2 m: straight-line supply above the kink, all first-order below it. */
interface Regime {
  readonly sourceGPerS: number;
  readonly ratePerS: number;
}

/**
 * Soot load after a step: exact for constant conditions, whatever the step, so that splitting it changes nothing.
 *
 * The NO2 supply makes it two pieces: above the load at which the NO2 runs short the NO2 burns a constant amount, below
 * it a constant share; the load crosses from one to the other once at most.
 * Units: grams and seconds. Range: load, conditions and time not negative; the result is not negative.
 * Missing: a NaN anywhere, or a time that is not above nought, leaves the load as it was.
 * Source: domain notes, section 2.2 (lumped model, prefactors calibrated); the exact solution is own arithmetic.
 */
export function stepSootLoadG(sootG: number, conditions: SootConditions, elapsedS: number): number {
  if (!(elapsedS > 0) || !isKnown(conditions)) return sootG;
  const kinkG = kinkLoadG(conditions);
  const regime = regimeAt(conditions, sootG > kinkG);
  const slope = slopeGPerS(sootG, regime);
  const isLeaving = sootG > kinkG ? slope < 0 : slope > 0;
  const toKinkS =
    isLeaving && kinkG < Number.POSITIVE_INFINITY ? timeToChangeS(kinkG - sootG, slope, regime.ratePerS) : null;
  if (toKinkS === null || toKinkS >= elapsedS) return settle(sootG, regime, elapsedS);
  return settle(kinkG, regimeAt(conditions, !(sootG > kinkG)), elapsedS - toKinkS);
}

/**
 * Load at which as much burns as comes in.
 *
 * Units: grams. Range: nought when nothing comes in; Infinity when nothing burns or the NO2 supply and the oxygen together burn less
 * than comes in at any load. Missing: NaN in the conditions gives NaN.
 * Source: own arithmetic from the lumped model.
 */
export function sootBalanceLoadG(conditions: SootConditions): number {
  if (!isKnown(conditions)) return Number.NaN;
  const { sootInGPerS } = conditions;
  if (sootInGPerS <= 0) return 0;
  const below = regimeAt(conditions, false);
  const balanceG = below.sourceGPerS / below.ratePerS;
  if (balanceG <= kinkLoadG(conditions)) return balanceG;
  const above = regimeAt(conditions, true);
  return above.ratePerS > 0 ? above.sourceGPerS / above.ratePerS : Number.POSITIVE_INFINITY;
}

/**
 * Minutes at constant conditions until the load is down to a limit.
 *
 * Units: grams, result in minutes. Range: 0 when it is there already.
 * Missing: null when it never gets there, or when a NaN comes in. Source: own arithmetic, closed form.
 */
export function minutesUntilSootUnder(sootG: number, limitG: number, conditions: SootConditions): number | null {
  if (!isKnown(conditions) || sootG !== sootG || limitG !== limitG) return null;
  if (sootG <= limitG) return 0;
  const kinkG = kinkLoadG(conditions);
  let fromG = sootG;
  let elapsedS = 0;
  if (fromG > kinkG) {
    const regime = regimeAt(conditions, true);
    const tillG = Math.max(kinkG, limitG);
    const partS = timeToChangeS(tillG - fromG, slopeGPerS(fromG, regime), regime.ratePerS);
    if (partS === null) return null;
    elapsedS = partS;
    fromG = tillG;
  }
  if (fromG > limitG) {
    const regime = regimeAt(conditions, false);
    const partS = timeToChangeS(limitG - fromG, slopeGPerS(fromG, regime), regime.ratePerS);
    if (partS === null) return null;
    elapsedS += partS;
  }
  return elapsedS / 60;
}

/**
 * Temperature at which a filter with a given load neither gains nor loses soot, between 100 and 800 degC.
 *
 * Units: grams, degC. Range: the temperature in `conditions` is not used.
 * Missing: null when it gains even at 800 degC, loses even at 100 degC, or a NaN comes in.
 * Source: own arithmetic, bisection on the lumped model, in which burning only grows with temperature.
 */
export function sootBalancePointC(sootG: number, conditions: Omit<SootConditions, 'tempC'>): number | null {
  const slopeAt = (tempC: number) => netSootGPerS(sootG, { ...conditions, tempC });
  let low = coolestBalanceC;
  let high = hottestBalanceC;
  if (!(slopeAt(low) > 0) || !(slopeAt(high) < 0)) return null;
  for (let i = 0; i < halvings; i++) {
    const middle = (low + high) / 2;
    if (slopeAt(middle) > 0) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

/**
 * Soot gained (or lost, below nought) at a load, g/s. Missing: NaN gives NaN.
 * Source: domain notes, section 2.2.
 */
export function netSootGPerS(sootG: number, conditions: SootConditions): number {
  const { sootInGPerS, tempC, no2Ratio, o2Ratio, no2CapGPerS } = conditions;
  const byNo2 = Math.min(sootRateByNo2PerS(tempC, no2Ratio) * sootG, no2CapGPerS);
  return sootInGPerS - byNo2 - sootRateByO2PerS(tempC, o2Ratio) * sootG;
}

function isKnown({ sootInGPerS, tempC, no2Ratio, o2Ratio, no2CapGPerS }: SootConditions): boolean {
  const sum = sootInGPerS + tempC + no2Ratio + o2Ratio + no2CapGPerS;
  return sum === sum;
}

/** Load above which the NO2 runs short. */
function kinkLoadG({ tempC, no2Ratio, no2CapGPerS }: SootConditions): number {
  const byNo2 = sootRateByNo2PerS(tempC, no2Ratio);
  return byNo2 > 0 ? no2CapGPerS / byNo2 : Number.POSITIVE_INFINITY;
}

function regimeAt({ sootInGPerS, tempC, no2Ratio, o2Ratio, no2CapGPerS }: SootConditions, isAbove: boolean): Regime {
  const byO2 = sootRateByO2PerS(tempC, o2Ratio);
  if (isAbove) return { sourceGPerS: sootInGPerS - no2CapGPerS, ratePerS: byO2 };
  return { sourceGPerS: sootInGPerS, ratePerS: sootRateByNo2PerS(tempC, no2Ratio) + byO2 };
}

function slopeGPerS(sootG: number, { sourceGPerS, ratePerS }: Regime): number {
  return sourceGPerS - ratePerS * sootG;
}

function settle(sootG: number, { sourceGPerS, ratePerS }: Regime, elapsedS: number): number {
  return Math.max(0, sootG * Math.exp(-ratePerS * elapsedS) + sourceGPerS * decayIntegralS(ratePerS, elapsedS));
}
