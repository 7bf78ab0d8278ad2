/** What residency keeps of a machine: the current row, totals, the histogram. */

import { exhaustSourceOrder } from '@warmbrick/signals';
import { inSeconds, rounded } from './figures.js';
import { histogramBins } from './residency-row.js';
import type { ResidencyTotals } from './summary.js';

/** Positions in an account: milliseconds each, so that sums are exact whatever their order. */
export const slot = {
  idle: 0,
  coolingDown: 1,
  light: 2,
  working: 3,
  below: 4,
  inside: 5,
  above: 6,
  belowRelease: 7,
  noTemperature: 8,
  cranking: 9,
  off: 10,
  unobserved: 11,
} as const;
export const slots = 12;
/** Slot of each mode code. */
export const slotOfMode = [
  slot.unobserved,
  slot.off,
  slot.cranking,
  slot.idle,
  slot.idle,
  slot.light,
  slot.working,
] as const;

export interface ResidencyState {
  readonly rowStartMs: number | null;
  readonly row: readonly number[];
  readonly rowFuelL: number;
  readonly rowMaxTempC: number | null;
  readonly total: readonly number[];
  readonly totalFuelL: number;
  readonly totalMaxTempC: number | null;
  readonly histogramMs: readonly number[];
  readonly sourceMs: readonly number[];
  readonly loadKnownMs: number;
  readonly fromMs: number | null;
  readonly toMs: number;
}

export const initialResidency: ResidencyState = {
  rowStartMs: null,
  row: new Array<number>(slots).fill(0),
  rowFuelL: 0,
  rowMaxTempC: null,
  total: new Array<number>(slots).fill(0),
  totalFuelL: 0,
  totalMaxTempC: null,
  histogramMs: new Array<number>(histogramBins).fill(0),
  sourceMs: new Array<number>(exhaustSourceOrder.length).fill(0),
  loadKnownMs: 0,
  fromMs: null,
  toMs: 0,
};

/** Totals over everything observed, the current row included. */
export function residencyTotals(state: ResidencyState): ResidencyTotals {
  const sum = state.total.map((value, k) => value + (state.row[k] as number));
  const hottest = Math.max(
    state.totalMaxTempC ?? Number.NEGATIVE_INFINITY,
    state.rowMaxTempC ?? Number.NEGATIVE_INFINITY,
  );
  return figures(sum, state.totalFuelL + state.rowFuelL, finiteOrNull(hottest));
}

/** An account as seconds. */
export function figures(account: ArrayLike<number>, fuelL: number, maxTempC: number | null): ResidencyTotals {
  const s = (at: number) => inSeconds(account[at] as number);
  const runningMs =
    (account[slot.idle] as number) + (account[slot.light] as number) + (account[slot.working] as number);
  return {
    runningS: inSeconds(runningMs),
    idleS: s(slot.idle),
    coolingDownS: s(slot.coolingDown),
    lightS: s(slot.light),
    workingS: s(slot.working),
    belowS: s(slot.below),
    inS: s(slot.inside),
    aboveS: s(slot.above),
    belowReleaseS: s(slot.belowRelease),
    noTemperatureS: s(slot.noTemperature),
    crankingS: s(slot.cranking),
    offS: s(slot.off),
    unobservedS: s(slot.unobserved),
    maxExhaustTempC: maxTempC === null ? null : rounded(maxTempC, 1),
    fuelL: rounded(fuelL, 3),
  };
}

/** Infinities stand for "none yet" and are no value. */
export function finiteOrNull(value: number): number | null {
  return Number.isFinite(value) ? value : null;
}
