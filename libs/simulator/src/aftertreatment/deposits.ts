/** Urea on the wall behind the injector, until it is in the way of the spray. */

import {
  applyUreaDepositStep,
  noUreaDeposits,
  sprayedWallTempC,
  totalDepositG,
  type UreaDepositStep,
  type UreaDeposits,
  ureaDepositStep,
  ureaStickingRatio,
} from '@warmbrick/aftertreatment';
import { rateTable } from './rate-table.js';
import type { Second } from './second.js';

export interface Deposits {
  pools: UreaDeposits;
  isBlocked: boolean;
  /** Deposits as a share of what blocks the spray, at most 1. */
  blockedRatio: number;
  /** DEF dosed since the pools were last stepped, g. */
  dosedG: number;
  seconds: number;
}

/** The pools move slowly: they are stepped this often, s. Source: design decision. */
const stepS = 10;
/** Deposits that block the spray of a 6.7 L engine, g, and below which it is free again. Source: engineering judgement; none is published. */
const blockingG = 14;
const freeRatio = 0.4;
const referenceDisplacementL = 6.7;
/** Full dosing of a litre of displacement, g/h: what cools the wall as much as spray does. Source: domain notes 1.3, 1870 g/h of 6.7 L. */
const fullDosingGPerHPerL = 280;
const ureaRatio = 0.325;
/** Spray on a blocked injector sticks this much more. Source: engineering judgement. */
const blockedSticking = 2;

const stickingRatio = rateTable(ureaStickingRatio);
/** Steps by whole degree of wall temperature, from -60 degC; filled as they are wanted. */
const steps: UreaDepositStep[] = [];

export function noDeposits(): Deposits {
  return { pools: noUreaDeposits, isBlocked: false, blockedRatio: 0, dosedG: 0, seconds: 0 };
}

/** Adds a second of dosing; standing machines keep what they have. */
export function stepDeposits(deposits: Deposits, second: Second, dosed: { gPerS: number; factor: number }): void {
  if (!second.isBurning) return;
  deposits.dosedG += dosed.gPerS;
  deposits.seconds++;
  if (deposits.seconds < stepS) return;
  const { displacementL } = second.profile;
  const dosingRatio = (deposits.dosedG * 3600) / stepS / (fullDosingGPerHPerL * displacementL);
  const wallC = sprayedWallTempC(second.readings.scrInletTempC, dosingRatio);
  const factor = dosed.factor * (deposits.isBlocked ? blockedSticking : 1);
  const inflowGPerS = (deposits.dosedG * ureaRatio * stickingRatio(wallC) * factor) / stepS;
  deposits.pools = applyUreaDepositStep(deposits.pools, stepAt(wallC), inflowGPerS);
  deposits.dosedG = 0;
  deposits.seconds = 0;
  const limitG = (blockingG * displacementL) / referenceDisplacementL;
  const totalG = totalDepositG(deposits.pools);
  deposits.blockedRatio = Math.min(1, totalG / limitG);
  if (totalG >= limitG) deposits.isBlocked = true;
  else if (totalG < freeRatio * limitG) deposits.isBlocked = false;
}

function stepAt(wallC: number): UreaDepositStep {
  const at = Math.max(0, Math.round(wallC) + 60);
  const known = steps[at];
  if (known !== undefined) return known;
  const step = ureaDepositStep(at - 60, stepS);
  steps[at] = step;
  return step;
}
