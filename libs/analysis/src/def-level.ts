/** The level of the DEF tank: fills, and falls that dosing cannot explain, through the slosh. */

import type { DefReading } from './def-reading.js';
import type { DetectorConfig, DetectorEvent } from './detector.js';
import { rounded } from './figures.js';

/** Level as believed. Mutable; plain numbers. */
export interface DefLevelState {
  /** Settled level and the minute it is from; null before the first one. */
  pct: number | null;
  atMs: number;
  /** Minutes that made it, up to `settledReadings`. */
  readings: number;
  /** Since then: DEF used, time of which the use is not known, whether the machine stood or was out of sight to be filled. */
  usedL: number;
  unknownMs: number;
  hadOccasion: boolean;
  /** Another level that may turn out to be the new one: mean, first minute, minutes. */
  newPct: number;
  newFromMs: number;
  newReadings: number;
}

export const noLevel: Readonly<DefLevelState> = {
  pct: null,
  atMs: 0,
  readings: 0,
  usedL: 0,
  unknownMs: 0,
  hadOccasion: false,
  newPct: 0,
  newFromMs: 0,
  newReadings: 0,
};

/** Share of a new minute in the settled level. Source: engineering judgement, five minutes. */
const smoothing = 0.2;
/** Minutes after which a level is settled. */
const settledReadings = 5;
/** Time out of sight that a fill fits into, ms. Source: engineering judgement. */
const fillTimeMs = 300_000;
/** Share by which the reckoned use may be short before a fall is one. Source: engineering judgement. */
const useMarginRatio = 0.5;
/** Fuel at rated power, L/kWh. Source: domain notes 4.2, 215 g/kWh at 0.835 kg/L. */
const fuelLPerKWh = 0.2575;
/** Most DEF for a litre of fuel of any machine. Source: measured 8 % at low load, domain notes 1.3. */
const mostDefPerFuel = 0.08;
const minuteMs = 60_000;
const hourMs = 3_600_000;

/** What a minute did to the level. */
export interface LevelChange {
  /** Percent by which the settled level fell while it was followed. */
  readonly fellPct: number;
  readonly event: DetectorEvent | null;
}

/**
 * Takes one minute.
 *
 * A level that leaves the settled one by `defStepPct` (upwards) or `defDropPct` (downwards) has to hold before it is believed:
 * `defFillHoldS` after a stop or a time out of sight, else `defMovingHoldS`, so that neither slosh nor a slope is a fill. A
 * fall has to be more than was used, by a margin, and more than could have been used unseen.
 * Missing: a minute without a level only adds what was used.
 */
export function foldLevel(config: DetectorConfig, level: DefLevelState, reading: DefReading): LevelChange {
  const change = reading.levelPct === null ? unchanged : compare(config, level, reading);
  level.usedL += reading.usedL;
  level.unknownMs += reading.unseenMs + reading.unknownMs;
  level.hadOccasion ||= reading.offMs > 0 || reading.unseenMs >= fillTimeMs;
  return change;
}

/** The settled level, or null as long as it is not settled. */
export function settledPct(level: Readonly<DefLevelState>): number | null {
  return level.readings >= settledReadings ? level.pct : null;
}

const unchanged: LevelChange = { fellPct: 0, event: null };

function compare(config: DetectorConfig, level: DefLevelState, reading: DefReading): LevelChange {
  const { defStepPct, defDropPct } = config.thresholds;
  const { defTankL } = config.profile;
  const pct = reading.levelPct as number;
  if (level.pct === null) {
    settle(level, reading.atMs, pct);
    return unchanged;
  }
  const expectedPct = Math.max(0, level.pct - (100 * level.usedL) / defTankL);
  const offPct = pct - expectedPct;
  if (offPct < defStepPct && offPct > -defDropPct) {
    const before = level.pct;
    settle(level, reading.atMs, expectedPct + offPct * Math.max(smoothing, 1 / (level.readings + 1)));
    return { fellPct: before - level.pct, event: null };
  }
  if (offPct < 0 && -offPct <= explainedPct(config, level)) {
    settle(level, reading.atMs, pct);
    return unchanged;
  }
  hold(level, reading.atMs, { pct, spreadPct: defStepPct / 2 });
  if (level.newReadings * minuteMs < holdMs(config, level, offPct)) return unchanged;
  const event = stepEvent(config, level, expectedPct);
  settle(level, reading.atMs, level.newPct);
  level.readings = settledReadings;
  return { fellPct: 0, event };
}

function settle(level: DefLevelState, atMs: number, pct: number): void {
  level.pct = Math.round(pct * 1e4) / 1e4;
  level.atMs = atMs;
  level.readings = Math.min(settledReadings, level.readings + 1);
  level.usedL = 0;
  level.unknownMs = 0;
  level.hadOccasion = false;
  level.newReadings = 0;
}

/** Keeps the mean of a level that holds; begins anew when it still moves. */
function hold(level: DefLevelState, atMs: number, now: { pct: number; spreadPct: number }): void {
  if (level.newReadings === 0 || Math.abs(now.pct - level.newPct) > now.spreadPct) {
    level.newPct = now.pct;
    level.newFromMs = atMs;
    level.newReadings = 1;
    return;
  }
  level.newReadings++;
  level.newPct += (now.pct - level.newPct) / level.newReadings;
}

function holdMs(config: DetectorConfig, level: DefLevelState, offPct: number): number {
  const { defFillHoldS, defMovingHoldS } = config.thresholds;
  return 1000 * (offPct > 0 && level.hadOccasion ? defFillHoldS : defMovingHoldS);
}

/** Percent of the tank that may have gone unseen, or by a use that is reckoned too low. */
function explainedPct(config: DetectorConfig, level: DefLevelState): number {
  const { defTankL, ratedPowerKW, defToFuelRatio } = config.profile;
  const mostLPerH = ratedPowerKW * fuelLPerKWh * Math.max(mostDefPerFuel, defToFuelRatio);
  const litres = useMarginRatio * level.usedL + (level.unknownMs / hourMs) * mostLPerH;
  return config.thresholds.defDropPct + (100 * litres) / defTankL;
}

function stepEvent(config: DetectorConfig, level: DefLevelState, expectedPct: number): DetectorEvent {
  const { defTankL } = config.profile;
  const { defStepPct, defDropPct } = config.thresholds;
  const isFill = level.newPct > expectedPct;
  const litres = (Math.abs(level.newPct - expectedPct) / 100) * defTankL;
  // An empty or a full scale may be a sensor that failed.
  const mayBeSensor = level.newPct < 0.5 || level.newPct > 99.5;
  return {
    kind: isFill ? 'def-fill' : 'def-drop',
    startedMs: level.atMs,
    endedMs: level.newFromMs,
    severity: isFill ? 'info' : mayBeSensor ? 'notice' : 'warning',
    values: {
      litres: rounded(litres, 1),
      levelBeforePct: rounded(level.pct as number, 1),
      levelAfterPct: rounded(level.newPct, 1),
      tankL: defTankL,
    },
    evidence: {
      usedL: rounded(level.usedL, 2),
      unknownS: Math.round(level.unknownMs / 1000),
      stoodOrUnseen: level.hadOccasion,
      heldMinutes: level.newReadings,
      mayBeSensor,
      limitPct: isFill ? defStepPct : defDropPct,
    },
  };
}
