/** How long the DEF lasts, in engine hours, from what the machine itself used. */

import { type DefLevelState, settledPct } from './def-level.js';
import type { DefReading } from './def-reading.js';
import type { DetectorConfig, DetectorEvent } from './detector.js';
import { rounded, roundedOrNull } from './figures.js';

/** Use by engine hour. Mutable; plain numbers. */
export interface DefForecastState {
  /** The engine hour that goes on. */
  runMs: number;
  usedL: number;
  unknownMs: number;
  dosedMs: number;
  /** Hours that made the mean, up to `rememberedHours`; mean and variance of L/h. */
  hours: number;
  meanLPerH: number;
  varLPerH: number;
  /** Whether the last hour was dosing as sent, else reckoned from fuel. */
  isDosed: boolean;
  /** A forecast under the limit that goes on; 0: none. */
  sinceMs: number;
  /** Hours left when it began. */
  saidHours: number;
}

export const noForecast: Readonly<DefForecastState> = {
  runMs: 0,
  usedL: 0,
  unknownMs: 0,
  dosedMs: 0,
  hours: 0,
  meanLPerH: 0,
  varLPerH: 0,
  isDosed: false,
  sinceMs: 0,
  saidHours: 0,
};

/** Hours after which older ones fade. Source: engineering judgement, about three shifts. */
const rememberedHours = 24;
/** Hours from which there is a forecast. Source: engineering judgement. */
export const leastHours = 3;
/** Share of an hour that may be unknown. Source: engineering judgement. */
const unknownRatio = 0.2;
/** Width of the interval: 90 % of a normal distribution lie within. Source: table of the normal distribution. */
export const normal90 = 1.645;
const hourMs = 3_600_000;

/** Engine hours until something is used up. */
export interface HoursLeft {
  readonly hours: number;
  readonly lowHours: number;
  /** null when the spread is so wide that no end can be told. */
  readonly highHours: number | null;
}

/** Less than this is none: its square would vanish before it does. Source: engineering judgement. */
const traceL = 1e-12;

/**
 * Engine hours until an amount is used, with the range that 90 of 100 such stretches fall into.
 *
 * Uses of single hours are taken as independent, and the mean itself as uncertain by its count: after t hours the use has
 * variance v (t + t^2 / n); the bounds are where the amount is `normal90` deviations away.
 * Units: L, L/h. Range: low <= hours <= high. Missing: null when nothing is used in the mean.
 * Source: own arithmetic, first passage by a quadratic.
 */
export function hoursUntilUsed(
  amountL: number,
  use: { meanLPerH: number; varLPerH: number; hours: number },
): HoursLeft | null {
  const { meanLPerH, varLPerH } = use;
  if (!(meanLPerH > 0) || !(use.hours > 0)) return null;
  const left = amountL > traceL ? amountL : 0;
  const hours = left / meanLPerH;
  const spread = normal90 * normal90 * varLPerH;
  const a = meanLPerH * meanLPerH - spread / use.hours;
  const halfB = meanLPerH * left + spread / 2;
  // halfB^2 - a amount^2, multiplied out so that nothing cancels.
  const root = Math.sqrt(spread * (meanLPerH * left + spread / 4 + (left * left) / use.hours));
  // The smaller root in a form that stays exact when a is small or below nought.
  const lowHours = halfB + root > 0 ? (left * left) / (halfB + root) : 0;
  return { hours, lowHours, highHours: a > 0 ? (halfB + root) / a : null };
}

/** Time to the low level, as things stand; null while too little is known. For summaries. */
function defOutlook(
  config: DetectorConfig,
  forecast: Readonly<DefForecastState>,
  level: Readonly<DefLevelState>,
): HoursLeft | null {
  const pct = settledPct(level);
  if (pct === null || forecast.hours < leastHours) return null;
  const amountL = ((pct - config.thresholds.defLowPct) / 100) * config.profile.defTankL - level.usedL;
  return hoursUntilUsed(amountL, forecast);
}

/**
 * Takes one minute: learns the use of each full engine hour, and says when less than `defForecastH` are left.
 *
 * The event is the end of one: filled, more than `defForecastClearH` left, or down at the limit; one that goes on is
 * `openForecast`.
 */
export function foldForecast(
  config: DetectorConfig,
  forecast: DefForecastState,
  at: { level: Readonly<DefLevelState>; reading: DefReading; wasFilled: boolean },
): DetectorEvent | null {
  learn(forecast, at.reading);
  if (forecast.sinceMs === 0 && isFar(config, forecast, at.level)) return null;
  const left = defOutlook(config, forecast, at.level);
  if (left === null && forecast.sinceMs === 0) return null;
  const { defForecastH, defForecastClearH, defLowPct } = config.thresholds;
  const { atMs } = at.reading;
  const hours = left?.hours ?? Number.POSITIVE_INFINITY;
  const isLow = (at.level.pct as number) <= defLowPct || hours <= 0;
  if (forecast.sinceMs === 0) {
    if (isLow || hours >= defForecastH) return null;
    forecast.sinceMs = atMs;
    forecast.saidHours = rounded(hours, 1);
    return null;
  }
  // A small tank may never hold so much: filled up it is well all the same.
  if (isLow || hours > defForecastClearH || (at.wasFilled && hours >= defForecastH)) {
    const event = forecastEvent(config, forecast, { left, level: at.level, endedMs: atMs });
    forecast.sinceMs = 0;
    return event;
  }
  return null;
}

/** The forecast under the limit that goes on, from the state alone; null when there is none. */
export function openForecast(
  config: DetectorConfig,
  forecast: Readonly<DefForecastState>,
  level: Readonly<DefLevelState>,
): DetectorEvent | null {
  if (forecast.sinceMs === 0) return null;
  return forecastEvent(config, forecast, { left: defOutlook(config, forecast, level), level, endedMs: null });
}

/** The usual case, without the sums: nothing known yet, or far more left than matters. */
function isFar(config: DetectorConfig, forecast: DefForecastState, level: Readonly<DefLevelState>): boolean {
  if (forecast.hours < leastHours || level.pct === null) return true;
  const amountL = ((level.pct - config.thresholds.defLowPct) / 100) * config.profile.defTankL;
  return amountL > 2 * config.thresholds.defForecastH * forecast.meanLPerH + level.usedL;
}

function learn(forecast: DefForecastState, reading: DefReading): void {
  forecast.runMs += reading.runMs;
  forecast.usedL += reading.usedL;
  if (reading.dosedL !== null) forecast.dosedMs += reading.runMs;
  else if (reading.fuelL === 0) forecast.unknownMs += reading.runMs;
  if (forecast.runMs < hourMs) return;
  if (forecast.unknownMs <= unknownRatio * forecast.runMs) {
    const lPerH = (forecast.usedL * hourMs) / forecast.runMs;
    forecast.hours = Math.min(rememberedHours, forecast.hours + 1);
    const share = 1 / forecast.hours;
    const off = lPerH - forecast.meanLPerH;
    forecast.meanLPerH = rounded(forecast.meanLPerH + share * off, 5);
    forecast.varLPerH = rounded((1 - share) * (forecast.varLPerH + share * off * off), 6);
    forecast.isDosed = forecast.dosedMs > forecast.runMs / 2;
  }
  forecast.runMs = 0;
  forecast.usedL = 0;
  forecast.unknownMs = 0;
  forecast.dosedMs = 0;
}

function forecastEvent(
  config: DetectorConfig,
  forecast: Readonly<DefForecastState>,
  at: { left: HoursLeft | null; level: Readonly<DefLevelState>; endedMs: number | null },
): DetectorEvent {
  const { defForecastH, defLowPct } = config.thresholds;
  const { left } = at;
  return {
    kind: 'def-empty-forecast',
    startedMs: forecast.sinceMs,
    endedMs: at.endedMs,
    severity: left !== null && left.lowHours < defForecastH / 4 ? 'warning' : 'notice',
    values: {
      hours: roundedOrNull(left?.hours ?? null, 1),
      hoursLow: roundedOrNull(left?.lowHours ?? null, 1),
      hoursHigh: roundedOrNull(left?.highHours ?? null, 1),
      saidHours: forecast.saidHours,
      levelPct: rounded(at.level.pct as number, 1),
      limitPct: defLowPct,
      meanLPerH: rounded(forecast.meanLPerH, 3),
    },
    evidence: {
      learnedHours: forecast.hours,
      spreadLPerH: rounded(Math.sqrt(forecast.varLPerH), 3),
      from: forecast.isDosed ? 'dosing' : 'fuel',
      limitH: defForecastH,
    },
  };
}
