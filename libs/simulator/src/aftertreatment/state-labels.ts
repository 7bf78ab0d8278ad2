/** Truth labels of states that last: who holds a regeneration up, what is in the tank, what is blocked or clogged. */

import { defQualityLimits, totalDepositG } from '@warmbrick/aftertreatment';
import type { Aftertreatment } from './aftertreatment.js';
import { restrictionAtRatedKPa } from './air-filter.js';
import type { Second } from './second.js';

/** DEF is low below this level, %. Source: common practice, 10 %. */
const lowPct = 10;
/** DEF counts as frozen from this share of ice. Source: engineering judgement. */
const frozenRatio = 0.1;
/** An air filter is usually changed from this restriction at rated flow, kPa. Source: domain notes 10, 20-25 inH2O. */
const changePointKPa = 5;
/** Too little DEF to judge, share of the tank. Source: engineering judgement. */
const dregsRatio = 0.05;

/** Opens and closes the spells of one second. */
export function labelStates(aftertreatment: Aftertreatment, second: Second, isInhibited: boolean): void {
  const { spells, tank, deposits, conversion, airFilter } = aftertreatment;
  const { timeMs } = second;
  const { defTankL } = second.profile;
  const ureaPct = 100 * tank.ureaRatio;
  const { min, max } = defQualityLimits.ureaPct;
  const isWrong = tank.litres > dregsRatio * defTankL && (ureaPct < min || ureaPct > max);
  const isLow = tank.litres < (lowPct / 100) * defTankL;
  const isFrozen = tank.frozenRatio > frozenRatio;
  const isClogged = restrictionAtRatedKPa(airFilter.usedRatio) >= changePointKPa;
  const isLost = conversion.cause !== null;
  const isWaiting = second.readings.activeRegenState === 2;
  if (second.isBurning) {
    if (isWaiting) countWait(aftertreatment, isInhibited);
  } else if (aftertreatment.wasBurning) noteParked(aftertreatment, second);
  aftertreatment.wasBurning = second.isBurning;
  // Most seconds change nothing: one comparison tells.
  const now =
    (isInhibited ? 1 : 0) +
    (isLow ? 2 : 0) +
    (isWrong ? 4 : 0) +
    (isFrozen ? 8 : 0) +
    (deposits.isBlocked ? 16 : 0) +
    (isClogged ? 32 : 0) +
    (isLost ? 64 : 0) +
    (isWaiting ? 128 : 0);
  if (now === aftertreatment.labelled) return;
  aftertreatment.labelled = now;
  if (spells.begins('inhibited', isInhibited, timeMs)) openInhibited(aftertreatment, second);
  if (spells.begins('low', isLow, timeMs)) openTank(aftertreatment, second, 'def-low');
  if (spells.begins('quality', isWrong, timeMs)) openTank(aftertreatment, second, 'def-quality');
  if (spells.begins('frost', isFrozen, timeMs)) openTank(aftertreatment, second, 'def-frost');
  if (spells.begins('blockage', deposits.isBlocked, timeMs)) openBlockage(aftertreatment, timeMs);
  if (spells.begins('air-filter', isClogged, timeMs)) openAirFilter(aftertreatment, timeMs);
  if (spells.begins('nox-loss', isLost, timeMs)) openLoss(aftertreatment);
  if (spells.begins('wait', isWaiting, timeMs)) openWait(aftertreatment, timeMs);
}

function countWait({ wait }: Aftertreatment, isInhibited: boolean): void {
  wait.runningS++;
  if (isInhibited) wait.inhibitedS++;
}

function openWait({ spells, wait }: Aftertreatment, startedMs: number): void {
  const runningBeforeS = wait.runningS;
  const inhibitedBeforeS = wait.inhibitedS;
  spells.open('wait', (endedMs) => {
    const runningS = wait.runningS - runningBeforeS;
    return { kind: 'regeneration-wait', startedMs, endedMs, runningS, inhibitedS: wait.inhibitedS - inhibitedBeforeS };
  });
}

function noteParked({ events, tank }: Aftertreatment, { timeMs, airC, profile }: Second): void {
  const levelPct = (100 * tank.litres) / profile.defTankL;
  const { tempC: tankTempC } = tank;
  events.push({ kind: 'def-parked', startedMs: timeMs, endedMs: timeMs, levelPct, tankTempC, airTempC: airC });
}

function openAirFilter({ spells, airFilter }: Aftertreatment, startedMs: number): void {
  spells.open('air-filter', (endedMs) => {
    return { kind: 'air-filter', startedMs, endedMs, usedRatio: airFilter.usedRatio };
  });
}

function openInhibited({ spells }: Aftertreatment, { timeMs: startedMs, readings }: Second): void {
  const sootAtStartPct = readings.dpfSootPct;
  spells.open('inhibited', (endedMs) => {
    return { kind: 'regeneration-inhibited', startedMs, endedMs, sootAtStartPct, sootAtEndPct: readings.dpfSootPct };
  });
}

function openTank(
  { spells, tank }: Aftertreatment,
  { timeMs: startedMs, profile }: Second,
  kind: 'def-low' | 'def-quality' | 'def-frost',
): void {
  const name = { 'def-low': 'low', 'def-quality': 'quality', 'def-frost': 'frost' }[kind];
  const levelAtStartPct = (100 * tank.litres) / profile.defTankL;
  const { ureaRatio } = tank;
  spells.open(name, (endedMs) => ({ kind, startedMs, endedMs, levelAtStartPct, ureaRatio }));
}

function openBlockage({ spells, deposits }: Aftertreatment, startedMs: number): void {
  const depositsG = totalDepositG(deposits.pools);
  spells.open('blockage', (endedMs) => ({ kind: 'blockage', startedMs, endedMs, depositsG }));
}

function openLoss({ spells, conversion }: Aftertreatment): void {
  const { lossStartedMs: startedMs, cause } = conversion;
  if (cause !== null) spells.open('nox-loss', (endedMs) => ({ kind: 'nox-loss', startedMs, endedMs, cause }));
}
