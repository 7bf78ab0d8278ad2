/** What the ledger says of a DEF tank as it stands: level, how long it lasts, and what to leave in it overnight in frost. */

import { type FrostAdvice, frostAdvice } from '@warmbrick/aftertreatment';
import { type HoursLeft, hoursUntilUsed, leastHours, normal90 } from './def-forecast.js';
import type { DefLedgerState } from './def-ledger-detector.js';
import { settledPct } from './def-level.js';
import type { DetectorConfig } from './detector.js';
import { rounded, roundedOrNull } from './figures.js';

/** The tank at the last sample. Missing: null. */
export interface DefOutlook {
  readonly levelPct: number;
  readonly tankL: number;
  /** Level that counts as low, %. */
  readonly limitPct: number;
  /** Engine hours that the use was learned from; under three there is no forecast. */
  readonly learnedHours: number;
  readonly useLPerH: number | null;
  /** Spread of the use of single hours, one standard deviation. */
  readonly spreadLPerH: number | null;
  readonly usedBy: 'dosing' | 'fuel';
  /** Engine hours until the level counts as low, with the range of 90 in 100; 0 when it does already. */
  readonly hoursToLimit: number | null;
  readonly hoursToLimitLow: number | null;
  readonly hoursToLimitHigh: number | null;
  readonly tankTempC: number | null;
  readonly ambientTempC: number | null;
  /** What the level would be like if the machine were parked now, for a night `marginK` colder than tank and air. */
  readonly overnight: FrostAdvice;
  readonly marginK: number;
}

/** A level to come, with the range that 90 of 100 lie in. */
export interface DefLevelAhead {
  readonly hours: number;
  readonly levelPct: number;
  readonly lowPct: number;
  readonly highPct: number;
}

/** The outlook from the ledger's state; null for a machine whose level was never seen long enough to be settled. */
export function defOutlookOf(config: DetectorConfig, ledger: DefLedgerState): DefOutlook | null {
  const settled = settledPct(ledger.level);
  if (settled === null) return null;
  const { defTankL } = config.profile;
  const { defLowPct, frostMarginK } = config.thresholds;
  const { forecast, frost } = ledger;
  const levelPct = Math.max(0, settled - (100 * ledger.level.usedL) / defTankL);
  const isLearned = forecast.hours >= leastHours;
  const left = isLearned ? hoursLeft(levelPct - defLowPct, defTankL, forecast) : null;
  const { tankTempC, ambientTempC } = frost;
  const known = [tankTempC, ambientTempC].filter((tempC) => tempC !== null);
  return {
    levelPct: rounded(levelPct, 1),
    tankL: defTankL,
    limitPct: defLowPct,
    learnedHours: forecast.hours,
    useLPerH: isLearned ? rounded(forecast.meanLPerH, 3) : null,
    spreadLPerH: isLearned ? rounded(Math.sqrt(forecast.varLPerH), 3) : null,
    usedBy: forecast.isDosed ? 'dosing' : 'fuel',
    hoursToLimit: roundedOrNull(left?.hours ?? null, 1),
    hoursToLimitLow: roundedOrNull(left?.lowHours ?? null, 1),
    hoursToLimitHigh: roundedOrNull(left?.highHours ?? null, 1),
    tankTempC,
    ambientTempC: roundedOrNull(ambientTempC, 1),
    overnight: known.length === 0 ? 'unknown' : frostAdvice(levelPct / 100, Math.min(...known) - frostMarginK),
    marginK: frostMarginK,
  };
}

function hoursLeft(
  abovePct: number,
  tankL: number,
  use: { meanLPerH: number; varLPerH: number; hours: number },
): HoursLeft | null {
  return hoursUntilUsed((Math.max(0, abovePct) / 100) * tankL, use);
}

/**
 * The level at engine hours to come, nothing filled: the same sums as the hours to the limit, read the other way.
 *
 * Shapes: one entry an hour asked for. Range: 0..100 %. Missing: none while the use is not learned.
 * Source: own arithmetic: after t hours the use has variance v (t + t^2 / n).
 */
export function defLevelsAhead(outlook: DefOutlook, hours: readonly number[]): DefLevelAhead[] {
  const { useLPerH, spreadLPerH, tankL, levelPct, learnedHours } = outlook;
  if (useLPerH === null || spreadLPerH === null) return [];
  const within = (pct: number) => rounded(Math.min(100, Math.max(0, pct)), 1);
  return hours.map((hour) => {
    const usedPct = (100 * useLPerH * hour) / tankL;
    const spanPct = (100 * normal90 * spreadLPerH * Math.sqrt(hour + (hour * hour) / learnedHours)) / tankL;
    return {
      hours: hour,
      levelPct: within(levelPct - usedPct),
      lowPct: within(levelPct - usedPct - spanPct),
      // What is used only falls: the level is never above what it is now.
      highPct: within(Math.min(levelPct, levelPct - usedPct + spanPct)),
    };
  });
}
