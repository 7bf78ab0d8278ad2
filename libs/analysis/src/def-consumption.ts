/** DEF against fuel, compared with what the same machine used before. */

import type { DefReading } from './def-reading.js';
import type { DetectorConfig, DetectorEvent } from './detector.js';
import { rounded } from './figures.js';

/** Use against fuel by windows of fuel. Mutable; plain numbers. */
export interface DefConsumptionState {
  /** The windows that go on, by dosing and by level: first minute, warm fuel, DEF dosed with it or percent fallen. */
  dosedFromMs: number;
  dosedFuelL: number;
  dosedL: number;
  fellFromMs: number;
  fellFuelL: number;
  fellPct: number;
  /** What the baseline was measured by. */
  source: 'none' | 'dosing' | 'level';
  windows: number;
  baselineRatio: number;
  /** Windows in a row that were off, to the same side (sign). */
  offWindows: number;
  offFromMs: number;
  /** Ratio of the last window. */
  lastRatio: number;
  sinceMs: number;
}

export const noConsumption: Readonly<DefConsumptionState> = {
  dosedFromMs: 0,
  dosedFuelL: 0,
  dosedL: 0,
  fellFromMs: 0,
  fellFuelL: 0,
  fellPct: 0,
  source: 'none',
  windows: 0,
  baselineRatio: 0,
  offWindows: 0,
  offFromMs: 0,
  lastRatio: 0,
  sinceMs: 0,
};

/** Windows that make a baseline before anything is compared with it. Source: engineering judgement. */
const leastWindows = 5;
/** Windows after which older ones fade: slow, so that a drift is not learned away. Source: engineering judgement. */
const rememberedWindows = 40;
/** Windows in a row that have to be off. Source: engineering judgement. */
const offWindowsWanted = 2;
/** Least fall of the level that a ratio can be told from, %. Source: engineering judgement; levels are good to 1 %. */
const leastFallPct = 15;
/** Windows of fuel after which a level that did not fall so far is given up. Source: engineering judgement. */
const longestWindows = 20;

/**
 * Takes one minute: `fellPct` is what the settled level fell in it.
 *
 * A window closes after `defWindowFuelL` of fuel burnt warm enough to dose. Its ratio is DEF dosed, or where no dosing
 * is sent the fall of the level (which must be 15 % at least), over that fuel. Two windows off the machine's own baseline by
 * `defDriftRatio` are a finding, until one is within `defDriftClearRatio`; the baseline rests meanwhile.
 * Missing: without fuel rate nothing is said. Source: machines differ (2-8 % measured and read), so each is its own measure.
 */
export function foldConsumption(
  config: DetectorConfig,
  use: DefConsumptionState,
  at: { reading: DefReading; fellPct: number },
): DetectorEvent | null {
  const { reading, fellPct } = at;
  return reading.dosedL === null
    ? foldByLevel(config, use, { reading, fellPct })
    : foldByDosing(config, use, { reading, dosedL: reading.dosedL });
}

function foldByDosing(
  config: DetectorConfig,
  use: DefConsumptionState,
  at: { reading: DefReading; dosedL: number },
): DetectorEvent | null {
  const { reading } = at;
  if (reading.warmFuelL <= 0) return null;
  if (use.dosedFuelL === 0) use.dosedFromMs = reading.atMs;
  use.dosedFuelL += reading.warmFuelL;
  use.dosedL += at.dosedL;
  if (use.dosedFuelL < config.thresholds.defWindowFuelL) return null;
  const ratio = use.dosedL / use.dosedFuelL;
  use.dosedFuelL = 0;
  use.dosedL = 0;
  return judge(config, use, { ratio, source: 'dosing', fromMs: use.dosedFromMs, atMs: reading.atMs });
}

function foldByLevel(
  config: DetectorConfig,
  use: DefConsumptionState,
  at: { reading: DefReading; fellPct: number },
): DetectorEvent | null {
  const { reading } = at;
  const { defWindowFuelL } = config.thresholds;
  if (use.fellFuelL === 0) use.fellFromMs = reading.atMs;
  use.fellFuelL += reading.warmFuelL;
  use.fellPct += at.fellPct;
  if (use.fellFuelL < defWindowFuelL) return null;
  // A machine that burns much while its level stands still has lost its level sensor, not its thirst.
  const isLost = use.fellFuelL > longestWindows * defWindowFuelL;
  if (use.fellPct < leastFallPct && !isLost) return null;
  const ratio = ((use.fellPct / 100) * config.profile.defTankL) / use.fellFuelL;
  use.fellFuelL = 0;
  use.fellPct = 0;
  return isLost ? null : judge(config, use, { ratio, source: 'level', fromMs: use.fellFromMs, atMs: reading.atMs });
}

/** DEF for each litre of warm fuel: learned from the level, else the profile's. */
export function defPerFuelRatio(config: DetectorConfig, use: Readonly<DefConsumptionState>): number {
  return use.source !== 'none' && use.windows >= 2 ? use.baselineRatio : config.profile.defToFuelRatio;
}

interface Window {
  readonly ratio: number;
  readonly source: 'dosing' | 'level';
  readonly fromMs: number;
  readonly atMs: number;
}

function judge(config: DetectorConfig, use: DefConsumptionState, window: Window): DetectorEvent | null {
  if (use.source === window.source) use.lastRatio = rounded(window.ratio, 6);
  if (use.source !== window.source) {
    const wasOpen = use.sinceMs !== 0 ? consumptionEvent(config, use, window.atMs) : null;
    Object.assign(use, { source: window.source, windows: 0, baselineRatio: 0, offWindows: 0, sinceMs: 0 });
    learn(use, window.ratio);
    return wasOpen;
  }
  if (use.windows < leastWindows || use.baselineRatio <= 0) {
    learn(use, window.ratio);
    return null;
  }
  const { defDriftRatio, defDriftClearRatio } = config.thresholds;
  const off = window.ratio / use.baselineRatio - 1;
  if (use.sinceMs !== 0) {
    if (Math.abs(off) > defDriftClearRatio) return null;
    const event = consumptionEvent(config, use, window.atMs);
    use.sinceMs = 0;
    use.offWindows = 0;
    return event;
  }
  if (Math.abs(off) < defDriftRatio) {
    use.offWindows = 0;
    learn(use, window.ratio);
    return null;
  }
  const isSameSide = use.offWindows !== 0 && Math.sign(use.offWindows) === Math.sign(off);
  if (!isSameSide) use.offFromMs = window.fromMs;
  use.offWindows = isSameSide ? use.offWindows + Math.sign(off) : Math.sign(off);
  if (Math.abs(use.offWindows) >= offWindowsWanted) use.sinceMs = use.offFromMs;
  return null;
}

/** The drift that goes on, from the state alone; null when there is none. */
export function openConsumption(config: DetectorConfig, use: Readonly<DefConsumptionState>): DetectorEvent | null {
  return use.sinceMs === 0 ? null : consumptionEvent(config, use, null);
}

function learn(use: DefConsumptionState, ratio: number): void {
  use.windows = Math.min(rememberedWindows, use.windows + 1);
  use.baselineRatio = rounded(use.baselineRatio + (ratio - use.baselineRatio) / use.windows, 6);
}

function consumptionEvent(
  config: DetectorConfig,
  use: Readonly<DefConsumptionState>,
  endedMs: number | null,
): DetectorEvent {
  const off = use.lastRatio / use.baselineRatio - 1;
  return {
    kind: 'def-consumption',
    startedMs: use.sinceMs,
    endedMs,
    severity: Math.abs(off) >= 2 * config.thresholds.defDriftRatio ? 'warning' : 'notice',
    values: {
      direction: use.offWindows < 0 ? 'less' : 'more',
      ratioPct: rounded(100 * use.lastRatio, 2),
      baselinePct: rounded(100 * use.baselineRatio, 2),
      changePct: rounded(100 * off, 0),
    },
    evidence: {
      from: use.source,
      baselineWindows: use.windows,
      windowFuelL: config.thresholds.defWindowFuelL,
      limitPct: rounded(100 * config.thresholds.defDriftRatio, 0),
    },
  };
}
