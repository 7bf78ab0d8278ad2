/** What the models say of a machine: how much is in there, how it goes on, and what would clear it. */

import { minutesUntilDepositsUnder, minutesUntilSootUnder } from '@warmbrick/aftertreatment';
import { believedDeposits, type DepositWatchState, depositRatio, isDepositMeasured } from './deposit-watch.js';
import type { DetectorConfig } from './detector.js';
import { rounded, roundedOrNull } from './figures.js';
import type { SootLoadState } from './soot-load.js';
import { type SootBasis, sootBasisOf, workConditions } from './soot-outlook.js';
import { type SootPaceState, sootPacePctPerH } from './soot-pace.js';
import { sootLimitG } from './soot-table.js';

export interface LoadOutlook {
  /** Soot in the filter, or null for a machine without one. */
  readonly sootG: number | null;
  readonly sootLimitG: number | null;
  /** Share of the limit; over 1 is over it. */
  readonly sootRatio: number | null;
  /** Whether the machine's own soot signal is in it, and how sure the load is: one standard deviation as a share of the limit. */
  readonly isMeasured: boolean;
  readonly sootDoubtRatio: number | null;
  /** Which measurements carry the load of late, and whether the NO2 that burns it was sensed or estimated; null: no filter. */
  readonly sootBasis: SootBasis | null;
  readonly no2Basis: No2Basis | null;
  readonly depositG: number;
  readonly depositLimitG: number;
  readonly depositRatio: number;
  /** Whether the NOx sensors of late had a say in it. */
  readonly isDepositMeasured: boolean;
  /** Temperature of work that the burn-off is foretold for. */
  readonly workTempC: number;
  /** Minutes of such work until both are under the share that counts as clean; null: over ten hours. */
  readonly minutesUntilClean: number | null;
  /** Running hours until the soot limit at the duty of late; 0 when reached, null unless `wayToLimit` is reached or ahead. */
  readonly hoursToLimit: number | null;
  readonly wayToLimit: WayToLimit;
}

/** `sensed`: from NOx and exhaust flow within the last running hour; `estimated`: from load and fuel; `unknown`: no duty was seen yet. */
export const no2Bases = ['sensed', 'estimated', 'unknown'] as const;
export type No2Basis = (typeof no2Bases)[number];

/**
 * `reached`: at the limit or over it. `ahead`: in so many hours. `far`: beyond a thousand hours. `never`: that duty burns off
 * what it makes before the limit. `unknown`: no duty was seen yet. `no-filter`: there is nothing to fill.
 */
export const waysToLimit = ['reached', 'ahead', 'far', 'never', 'unknown', 'no-filter'] as const;
export type WayToLimit = (typeof waysToLimit)[number];

/** Share of a limit below which it counts as clean. Source: engineering judgement. */
export const cleanRatio = 0.3;
/** NOx sensors report a few minutes after a start, and go silent in a cold pipe. Source: engineering judgement. */
const sensedMs = 3_600_000;
const longestMin = 600;
const longestHours = 1000;
/** Work that burns anything off is at least so hot, degC. Source: domain notes 3.4 and 2.3, 400 C within the hour. */
const burnOffC = 400;
/** A slower pace of the soot signal is none. Source: engineering judgement; the signal steps by a percent. */
const leastPacePctPerH = 0.1;

/**
 * The outlook at the last sample.
 *
 * Source: closed forms of the models in soot-load.ts and deposit-watch.ts; work is reckoned with the soot of 75 % load and
 * without new deposits, since hot walls take none.
 */
export function loadOutlook(
  config: DetectorConfig,
  states: { readonly soot: SootLoadState; readonly deposits: DepositWatchState; readonly pace: SootPaceState },
): LoadOutlook {
  const { soot, deposits, pace } = states;
  const { profile, window } = config;
  const workTempC = Math.min(window.highC, Math.max(burnOffC, Math.round((window.lowC + window.highC) / 2)));
  const limitG = profile.hasParticulateFilter ? sootLimitG(config) : null;
  const depositShare = depositRatio(config, deposits);
  const depositG = depositShare * profile.depositLimitG;
  const believed = believedDeposits(config, deposits);
  const depositMin = minutesUntilDepositsUnder(believed, workTempC, cleanRatio * profile.depositLimitG);
  const sootMin =
    limitG === null ? 0 : minutesUntilSootUnder(soot.sootG, cleanRatio * limitG, workConditions(config, workTempC));
  const slowest = depositMin === null || sootMin === null ? null : Math.max(depositMin, sootMin);
  return {
    sootG: limitG === null ? null : rounded(soot.sootG, 1),
    sootLimitG: limitG,
    sootRatio: limitG === null ? null : rounded(soot.sootG / limitG, 3),
    isMeasured: soot.fused > 0,
    sootDoubtRatio: limitG === null ? null : roundedOrNull(Math.sqrt(soot.varianceG2 ?? Number.NaN) / limitG, 2),
    sootBasis: limitG === null ? null : sootBasisOf(soot),
    no2Basis: limitG === null ? null : no2BasisOf(soot),
    depositG: rounded(depositG, 1),
    depositLimitG: profile.depositLimitG,
    depositRatio: rounded(depositShare, 3),
    isDepositMeasured: isDepositMeasured(deposits),
    workTempC,
    minutesUntilClean: slowest === null || slowest > longestMin ? null : Math.ceil(slowest),
    ...(limitG === null
      ? { hoursToLimit: null, wayToLimit: 'no-filter' as const }
      : wayOver(soot, limitG, sootPacePctPerH(pace))),
  };
}

function no2BasisOf({ madeGPerS, sinceSensedMs }: SootLoadState): No2Basis {
  if (madeGPerS === null) return 'unknown';
  return sinceSensedMs !== null && sinceSensedMs < sensedMs ? 'sensed' : 'estimated';
}

/** Way to the limit: by the pace of the machine's own signal where there is one, else by the model. */
function wayOver(
  soot: SootLoadState,
  limitG: number,
  pacePctPerH: number | null,
): Pick<LoadOutlook, 'hoursToLimit' | 'wayToLimit'> {
  if (soot.sootG >= limitG) return { hoursToLimit: 0, wayToLimit: 'reached' };
  if (pacePctPerH === null) return modelledWay(soot, limitG);
  if (pacePctPerH < leastPacePctPerH) return { hoursToLimit: null, wayToLimit: 'never' };
  return inHours((100 * (1 - soot.sootG / limitG)) / pacePctPerH);
}

function inHours(hours: number): Pick<LoadOutlook, 'hoursToLimit' | 'wayToLimit'> {
  if (hours > longestHours) return { hoursToLimit: null, wayToLimit: 'far' };
  return { hoursToLimit: rounded(hours, 1), wayToLimit: 'ahead' };
}

/** Time until m* + (m - m*) exp(-b t) reaches the limit, with the share b that burns of a full filter: NO2 may run short in it. */
function modelledWay(soot: SootLoadState, limitG: number): Pick<LoadOutlook, 'hoursToLimit' | 'wayToLimit'> {
  const { madeGPerS, burnPerS, sootG } = soot;
  if (madeGPerS === null || burnPerS === null) return { hoursToLimit: null, wayToLimit: 'unknown' };
  const balanceG = burnPerS > 1e-12 ? madeGPerS / burnPerS : Number.POSITIVE_INFINITY;
  if (madeGPerS <= 0 || balanceG <= limitG) return { hoursToLimit: null, wayToLimit: 'never' };
  const seconds =
    balanceG === Number.POSITIVE_INFINITY
      ? (limitG - sootG) / madeGPerS
      : Math.log((balanceG - sootG) / (balanceG - limitG)) / burnPerS;
  return inHours(seconds / 3600);
}
