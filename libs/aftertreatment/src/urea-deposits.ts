/** Urea deposits in three pools, each step solved exactly. */

import { type Curve, interpolate } from './interpolate.js';
import { ureaDepositRates } from './urea-deposit-rates.js';

/** Grams on the wall. */
export interface UreaDeposits {
  /** Urea and biuret. */
  readonly solubleG: number;
  readonly cyanuricG: number;
  /** Ammelide and what is harder. */
  readonly ammelideG: number;
}

export const noUreaDeposits: UreaDeposits = { solubleG: 0, cyanuricG: 0, ammelideG: 0 };

/**
 * Share of decomposing urea and biuret that becomes cyanuric acid, against wall temperature.
 * Source: 0.30 is a design choice; none below 175 degC, where cyanuric acid is first seen, and in full from 193 degC, where its
 * making speeds up: read in Schaber 2004.
 */
const cyanuricShare: Curve = { x: [175, 193], y: [0, 0.3] };
/** Share of decomposing cyanuric acid that becomes ammelide. Source: design choice. */
const ammelideShareRatio = 0.15;

/** Longest wait that is searched for, minutes. Source: engineering judgement; a thousand hours. */
export const longestCleaningMin = 60_000;
const halvings = 100;

/**
 * What a step at one wall temperature does, as the numbers of a linear map: worth keeping where many steps are alike.
 * `keepX` is what is left of a pool, `xToY` what one gram of X leaves in Y, `newInY` what one gram a second put on through
 * the step leaves in Y.
 */
export interface UreaDepositStep {
  readonly keepSoluble: number;
  readonly keepCyanuric: number;
  readonly keepAmmelide: number;
  readonly solubleToCyanuric: number;
  readonly solubleToAmmelide: number;
  readonly cyanuricToAmmelide: number;
  readonly newInSoluble: number;
  readonly newInCyanuric: number;
  readonly newInAmmelide: number;
}

/**
 * The map of a step: dS/dt = in - kS S; dC/dt = 0.30 kS S - kC C; dH/dt = 0.15 kC C - kH H.
 *
 * The exponential of the rate matrix by scaling and doubling. Every term is positive and the diagonal is set anew from its
 * formula at each doubling, so nothing cancels: equal rates, rates of 1e-40 and rates of 1e12 per second all keep their
 * digits. `shareRatio` takes the place of the 0.30 that depends on temperature: with a fixed one no pool can be larger for
 * having been hotter.
 * Units: degC, seconds. Range: time from nought to days. Missing: NaN, or a time that is not above nought, gives the map
 * that changes nothing.
 * Source: domain notes, section 3.4; rates read, shares design choices, solution own arithmetic.
 */
export function ureaDepositStep(wallTempC: number, elapsedS: number, shareRatio?: number): UreaDepositStep {
  if (!(elapsedS > 0) || wallTempC !== wallTempC) return unchanged;
  const { solublePerS, cyanuricPerS, ammelidePerS } = ureaDepositRates(wallTempC);
  const rates = [0, solublePerS, cyanuricPerS, ammelidePerS];
  const share = shareRatio ?? interpolate(cyanuricShare, wallTempC);
  const feeds = [1, share * solublePerS, ammelideShareRatio * cyanuricPerS];
  const fastest = Math.max(...rates);
  const doublings = Math.max(0, Math.ceil(Math.log2(2 * fastest * elapsedS)));
  let stepS = elapsedS / 2 ** doublings;
  let map = shortStep(rates, feeds, stepS);
  for (let i = 0; i < doublings; i++) {
    stepS = elapsedS / 2 ** (doublings - i - 1);
    map = twice(map, rates, stepS);
  }
  const at = (row: number, column: number) => map[row * size + column] as number;
  return {
    keepSoluble: at(1, 1),
    keepCyanuric: at(2, 2),
    keepAmmelide: at(3, 3),
    solubleToCyanuric: at(1, 2),
    solubleToAmmelide: at(1, 3),
    cyanuricToAmmelide: at(2, 3),
    newInSoluble: at(0, 1),
    newInCyanuric: at(0, 2),
    newInAmmelide: at(0, 3),
  };
}

/**
 * Deposits after a step whose map is known.
 *
 * Units: grams; urea that sticks in g/s. Range: nought and more. Missing: urea unknown counts as none.
 */
export function applyUreaDepositStep(
  deposits: UreaDeposits,
  step: UreaDepositStep,
  stickingGPerS: number,
): UreaDeposits {
  const { solubleG, cyanuricG, ammelideG } = deposits;
  const inflow = stickingGPerS === stickingGPerS ? Math.max(0, stickingGPerS) : 0;
  return {
    solubleG: solubleG * step.keepSoluble + inflow * step.newInSoluble,
    cyanuricG: cyanuricG * step.keepCyanuric + solubleG * step.solubleToCyanuric + inflow * step.newInCyanuric,
    ammelideG:
      ammelideG * step.keepAmmelide +
      cyanuricG * step.cyanuricToAmmelide +
      solubleG * step.solubleToAmmelide +
      inflow * step.newInAmmelide,
  };
}

/** Grams in all pools together. */
export function totalDepositG({ solubleG, cyanuricG, ammelideG }: UreaDeposits): number {
  return solubleG + cyanuricG + ammelideG;
}

/**
 * Deposits as a share of a stated limit; 1 is at the limit.
 *
 * Units: grams. Range: nought and more. Missing: NaN gives NaN. Source: the limit is the caller's to name; none is published.
 */
export function depositIndexRatio(deposits: UreaDeposits, limitG: number): number {
  return totalDepositG(deposits) / limitG;
}

/**
 * Minutes at a steady wall temperature, without dosing, until the deposits are down to a limit.
 *
 * Units: degC, grams. Range: 0 when they are there already.
 * Missing: null when it takes longer than 60 000 minutes, or when a NaN comes in.
 * Source: own arithmetic: the sum only falls when nothing is added, so halving the interval finds the one answer.
 */
export function minutesUntilDepositsUnder(deposits: UreaDeposits, wallTempC: number, limitG: number): number | null {
  const left = (minutes: number) =>
    totalDepositG(applyUreaDepositStep(deposits, ureaDepositStep(wallTempC, minutes * 60), 0));
  if (wallTempC !== wallTempC || !(limitG >= 0)) return null;
  if (totalDepositG(deposits) <= limitG) return 0;
  if (!(left(longestCleaningMin) <= limitG)) return null;
  let low = 0;
  let high = longestCleaningMin;
  for (let i = 0; i < halvings; i++) {
    const middle = (low + high) / 2;
    if (left(middle) > limitG) low = middle;
    else high = middle;
  }
  return high;
}

const unchanged: UreaDepositStep = {
  keepSoluble: 1,
  keepCyanuric: 1,
  keepAmmelide: 1,
  solubleToCyanuric: 0,
  solubleToAmmelide: 0,
  cyanuricToAmmelide: 0,
  newInSoluble: 0,
  newInCyanuric: 0,
  newInAmmelide: 0,
};

/** Inflow, soluble, cyanuric, ammelide. */
const size = 4;
/** Terms of the series for a step in which nothing loses more than half; the first left out is below 1e-17. */
const terms = 20;

/** Map of a step so short that the fastest rate times the step is a half at most; rows from, columns to. */
function shortStep(rates: readonly number[], feeds: readonly number[], stepS: number): Float64Array {
  const shift = Math.max(...rates);
  const sum = new Float64Array(size * size);
  for (let from = 0; from < size; from++) {
    let term: number[] = Array.from({ length: size }, (_, i) => (i === from ? 1 : 0));
    for (let n = 1; n <= terms + size; n++) {
      for (let to = 0; to < size; to++)
        sum[from * size + to] = (sum[from * size + to] as number) + (term[to] as number);
      term = term.map((value, to) => {
        const fed = to > 0 ? (term[to - 1] as number) * (feeds[to - 1] as number) : 0;
        return ((value * (shift - (rates[to] as number)) + fed) * stepS) / n;
      });
    }
  }
  const scale = Math.exp(-shift * stepS);
  const map = sum.map((value) => value * scale);
  setDiagonal(map, rates, stepS);
  return map;
}

/** The map of twice the step. */
function twice(map: Float64Array, rates: readonly number[], stepS: number): Float64Array {
  const result = new Float64Array(size * size);
  for (let from = 0; from < size; from++) {
    for (let to = from; to < size; to++) {
      let value = 0;
      for (let via = from; via <= to; via++) {
        value += (map[from * size + via] as number) * (map[via * size + to] as number);
      }
      result[from * size + to] = value;
    }
  }
  setDiagonal(result, rates, stepS);
  return result;
}

function setDiagonal(map: Float64Array, rates: readonly number[], stepS: number): void {
  for (let i = 0; i < size; i++) map[i * size + i] = Math.exp(-(rates[i] as number) * stepS);
}
