/** Soot by the pressure drop over the filter: a second measurement of the load, less certain than the machine's own signal. */

import { cleanDropKPa, filterFlowRatio, sootFromDropGPerL } from '@warmbrick/aftertreatment';

export interface SootPressureState {
  /** Running time since the drop was last taken in; null before the first time. */
  readonly sinceTakenMs: number | null;
  /** Drop of the clean filter at rated flow and 350 degC, learnt after a burn-off; null before one was seen. */
  readonly cleanKPa: number | null;
  /** Length of the burn-off that is going on, 0 for none. */
  readonly burnOffMs: number;
  /** Looks left to learn from after a completed one, and what they gave so far. */
  readonly looksLeft: number;
  readonly learnKPa: number;
  readonly learnCount: number;
}

export const initialSootPressure: SootPressureState = {
  sinceTakenMs: null,
  cleanKPa: null,
  burnOffMs: 0,
  looksLeft: 0,
  learnKPa: 0,
  learnCount: 0,
};

/** The same while a block is worked on. Missing: NaN, so that every field stays a plain number. */
export type SootPressureWork = { -readonly [K in keyof SootPressureState]: number };

export function pressureWork(state: SootPressureState): SootPressureWork {
  return {
    sinceTakenMs: state.sinceTakenMs ?? Number.NaN,
    cleanKPa: state.cleanKPa ?? Number.NaN,
    burnOffMs: state.burnOffMs,
    looksLeft: state.looksLeft,
    learnKPa: state.learnKPa,
    learnCount: state.learnCount,
  };
}

export function pressureState(work: SootPressureWork): SootPressureState {
  return {
    sinceTakenMs: Number.isNaN(work.sinceTakenMs) ? null : work.sinceTakenMs,
    cleanKPa: Number.isNaN(work.cleanKPa) ? null : work.cleanKPa,
    burnOffMs: work.burnOffMs,
    looksLeft: work.looksLeft,
    learnKPa: work.learnKPa,
    learnCount: work.learnCount,
  };
}

/** Running time between two looks, ms. */
export const lookEveryMs = 60_000;
/** Running time between two readings that count: drift of flow and temperature outlasts a minute. Source: engineering judgement. */
const takeEveryMs = 600_000;
/** Least flow as a share of the rated one: below it the sensor's own step is a tenth of the reading. Source: engineering judgement. */
const leastFlowRatio = 0.3;
/**
 * Scatter of one reading, and what is wrong with all readings of a machine alike (clean drop, shape of the layer), as
 * shares of the limit. Source: engineering judgement; real layers differ by half to twice, see `sootDropLPerG`.
 */
const readingDeviation = 0.25;
const biasDeviation = 0.15;
/** Soot left by a completed burn-off, share of the limit. Source: 80-95 % are cleared in 20-30 min, from memory. */
const leftRatio = 0.1;
/** Running minutes after a burn-off in which the clean drop is learnt, and readings: most and least. Source: engineering judgement. */
const learnMinutes = 60;
const mostReadings = 15;
const leastReadings = 5;
/** State 1 of SPN 3700: regenerating. Source: domain notes on J1939, 2b. */
const activeState = 1;

/** What is seen at one look; NaN for what was not sent. */
export interface PressureLook {
  /** Running time since the last look. */
  readonly sinceMs: number;
  readonly dropKPa: number;
  readonly exhaustKgPerH: number;
  readonly tempC: number;
  readonly activeRegenState: number;
}

export interface PressureFilter {
  readonly limitG: number;
  readonly litres: number;
  readonly ratedFlowKgPerH: number;
  /** Length from which a burn-off counts as completed, as for the finding. */
  readonly fullBurnOffMs: number;
}

/**
 * Looks at the drop once a minute of running and gives the soot it stands for, g; NaN when it says nothing.
 *
 * The clean drop is learnt in the hour after each completed burn-off (`activeRegenState` for `regenFullS`), as the mean of up
 * to 15 readings; without such a burn-off the pressure is not used. A reading counts from 30 % of the rated flow on and
 * once in ten minutes. Range: nought to 2.5 times the limit, more says nothing. Missing: NaN in drop, flow or temperature is no reading.
 */
export function sootByPressureG(work: SootPressureWork, filter: PressureFilter, look: PressureLook): number {
  work.sinceTakenMs += look.sinceMs;
  followBurnOff(work, filter, look);
  const flowRatio = filterFlowRatio(look.exhaustKgPerH, filter.ratedFlowKgPerH, look.tempC);
  const isReading = flowRatio >= leastFlowRatio && look.dropKPa > 0;
  if (work.looksLeft > 0) {
    if (isReading) {
      work.learnKPa += cleanDropKPa(look.dropKPa, flowRatio, (leftRatio * filter.limitG) / filter.litres);
      work.learnCount++;
    }
    work.looksLeft = work.learnCount >= mostReadings ? 0 : work.looksLeft - 1;
    if (work.looksLeft === 0 && work.learnCount >= leastReadings) work.cleanKPa = work.learnKPa / work.learnCount;
    return Number.NaN;
  }
  if (!isReading || work.cleanKPa !== work.cleanKPa || work.sinceTakenMs < takeEveryMs) return Number.NaN;
  const sootG = Math.max(0, sootFromDropGPerL(look.dropKPa, work.cleanKPa, flowRatio) * filter.litres);
  return sootG <= 2.5 * filter.limitG ? sootG : Number.NaN;
}

function followBurnOff(
  work: SootPressureWork,
  filter: PressureFilter,
  { activeRegenState, sinceMs }: PressureLook,
): void {
  if (activeRegenState !== activeRegenState) return;
  if (activeRegenState === activeState) {
    work.burnOffMs += sinceMs;
    work.looksLeft = 0;
  } else if (work.burnOffMs > 0) {
    if (work.burnOffMs >= filter.fullBurnOffMs) {
      work.looksLeft = learnMinutes;
      work.learnKPa = 0;
      work.learnCount = 0;
    }
    work.burnOffMs = 0;
  }
}

/**
 * Scalar filter for a reading whose error is in part the same every time: that part is never averaged away, so that
 * pressure alone makes the load no surer than 15 % of the limit, and adds nothing where the soot signal is in it already.
 *
 * P' = P - b2, gain = P' / (P' + r2), P = b2 + P' (1 - gain). Range: gain 0..1. Source: the usual scalar Kalman filter with the
 * shared error kept apart.
 */
export function pressureGain(varianceG2: number, limitG: number): { gain: number; varianceG2: number } {
  const sharedG2 = (biasDeviation * limitG) ** 2;
  const ownG2 = varianceG2 - sharedG2;
  if (!(ownG2 > 0)) return { gain: 0, varianceG2 };
  const gain = ownG2 / (ownG2 + (readingDeviation * limitG) ** 2);
  return { gain, varianceG2: sharedG2 + ownG2 * (1 - gain) };
}
