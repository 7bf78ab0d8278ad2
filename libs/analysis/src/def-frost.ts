/** The DEF tank in frost: its level at a stop, and a heater that does not warm. */

import { defFreezingPointC, type FrostAdvice, frostAdvice, frostSafeFillRatio } from '@warmbrick/aftertreatment';
import { type DefLevelState, settledPct } from './def-level.js';
import type { DefReading } from './def-reading.js';
import type { DetectorConfig, DetectorEvent } from './detector.js';
import { rounded, roundedOrNull } from './figures.js';

type HeaterFault = 'no-rise' | 'not-thawed';

/** What was last known, and the last advice. Mutable; plain values. */
export interface DefFrostState {
  tankTempC: number | null;
  ambientTempC: number | null;
  advice: FrostAdvice;
  advisedMs: number;
  /** Heater on without a break: for how long, from which temperature, since when; whether that is said already. */
  heaterMs: number;
  heaterFromC: number;
  heaterFromMs: number;
  heaterFault: 'none' | HeaterFault;
}

export const noFrost: Readonly<DefFrostState> = {
  tankTempC: null,
  ambientTempC: null,
  advice: 'unknown',
  advisedMs: 0,
  heaterMs: 0,
  heaterFromC: 0,
  heaterFromMs: 0,
  heaterFault: 'none',
};

/** The same advice is given again after so long, ms. Source: engineering judgement; a shift has few stops that far apart. */
const againMs = 4 * 3_600_000;
/** From here the heater counts as driven, %. Source: engineering judgement. */
const drivenPct = 50;
/** Colder than this all is ice and must warm; up to `thawedC` it may melt without warming. Source: -11.5 degC with a margin. */
const solidC = -13;
const thawedC = -9;
/** Least rise that shows a working heater, K. Source: engineering judgement; the sensor steps by 1 K. */
const leastRiseK = 1;

/**
 * Advice at a stop, when tank or air are near freezing: leave about a quarter, never brim-full.
 *
 * Nothing is said for a level that suits, and the same advice not again within four hours.
 * Source: common practice (about 25 % at the end of the shift); 93 % is own arithmetic from 7 % growth.
 */
export function adviseAtStop(
  config: DetectorConfig,
  frost: DefFrostState,
  at: { level: Readonly<DefLevelState>; atMs: number },
): DetectorEvent | null {
  const pct = settledPct(at.level);
  const { tankTempC, ambientTempC } = frost;
  if (pct === null || (tankTempC === null && ambientTempC === null)) return null;
  const coldestC = Math.min(tankTempC ?? Number.POSITIVE_INFINITY, ambientTempC ?? Number.POSITIVE_INFINITY);
  const advice = frostAdvice(pct / 100, coldestC - config.thresholds.frostMarginK);
  if (advice === 'no-frost' || advice === 'unknown' || advice === 'about-a-quarter') return null;
  if (advice === frost.advice && at.atMs - frost.advisedMs < againMs) return null;
  frost.advice = advice;
  frost.advisedMs = at.atMs;
  return {
    kind: 'def-frost',
    startedMs: at.atMs,
    endedMs: at.atMs,
    severity: advice === 'burst-risk' ? 'warning' : 'notice',
    values: {
      advice,
      levelPct: rounded(pct, 1),
      coldestC: rounded(coldestC, 1),
      safePct: rounded(100 * frostSafeFillRatio, 1),
    },
    evidence: {
      tankTempC: roundedOrNull(tankTempC, 0),
      ambientTempC: roundedOrNull(ambientTempC, 1),
      freezingC: defFreezingPointC,
      marginK: config.thresholds.frostMarginK,
    },
  };
}

/**
 * Takes one minute: remembers the temperatures, and finds a heater that is driven while the engine runs and does not
 * warm: solid ice that gains under 1 K in `defHeaterWaitS`, or no thaw within `defThawS`.
 *
 * Missing: without heater drive or tank temperature nothing is said. A stop, or the heater switched off, begins anew.
 */
export function foldFrost(config: DetectorConfig, frost: DefFrostState, reading: DefReading): DetectorEvent | null {
  if (reading.tankTempC !== null) frost.tankTempC = reading.tankTempC;
  if (reading.ambientTempC !== null) frost.ambientTempC = reading.ambientTempC;
  const { heaterPct, tankTempC } = reading;
  if (heaterPct === null || tankTempC === null) return null;
  if (heaterPct < drivenPct || reading.offMs > 0 || tankTempC > thawedC) return endHeater(config, frost, reading.atMs);
  if (reading.runMs === 0) return null;
  if (frost.heaterMs === 0) {
    frost.heaterFromC = tankTempC;
    frost.heaterFromMs = reading.atMs;
  }
  frost.heaterMs += reading.runMs;
  if (frost.heaterFault === 'none') frost.heaterFault = heaterFault(config, frost, tankTempC);
  return null;
}

/** The heater that goes on without effect, from the state alone; null when there is none. */
export function openHeater(config: DetectorConfig, frost: Readonly<DefFrostState>): DetectorEvent | null {
  return frost.heaterFault === 'none' ? null : heaterEvent(config, frost, null);
}

function heaterFault(config: DetectorConfig, frost: DefFrostState, tankTempC: number): HeaterFault | 'none' {
  const { defHeaterWaitS, defThawS } = config.thresholds;
  const isSolid = frost.heaterFromC < solidC && tankTempC < frost.heaterFromC + leastRiseK;
  if (isSolid && frost.heaterMs >= defHeaterWaitS * 1000) return 'no-rise';
  return frost.heaterMs >= defThawS * 1000 ? 'not-thawed' : 'none';
}

function endHeater(config: DetectorConfig, frost: DefFrostState, atMs: number): DetectorEvent | null {
  const event = frost.heaterFault === 'none' ? null : heaterEvent(config, frost, atMs);
  frost.heaterMs = 0;
  frost.heaterFault = 'none';
  return event;
}

function heaterEvent(config: DetectorConfig, frost: Readonly<DefFrostState>, endedMs: number | null): DetectorEvent {
  return {
    kind: 'def-heater',
    startedMs: frost.heaterFromMs,
    endedMs,
    severity: 'warning',
    values: {
      why: frost.heaterFault,
      heaterOnS: Math.round(frost.heaterMs / 1000),
      startTempC: frost.heaterFromC,
      tankTempC: frost.tankTempC,
    },
    evidence: {
      waitS: config.thresholds.defHeaterWaitS,
      thawS: config.thresholds.defThawS,
      freezingC: defFreezingPointC,
    },
  };
}
