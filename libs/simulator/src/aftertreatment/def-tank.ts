/** The DEF tank: level with slosh, concentration, fills, losses, frost and heater. */

import { defFusionKJPerKg } from '@warmbrick/aftertreatment';
import type { TruthEvent } from '../truth.js';
import { noise } from './noise.js';
import type { AftertreatmentOptions, DefBatch } from './options.js';
import type { Second } from './second.js';

export interface DefTank {
  litres: number;
  /** Urea by mass, 0..1. */
  ureaRatio: number;
  tempC: number;
  /** Share that is ice. */
  frozenRatio: number;
  /** Slosh on the level sensor, % points. */
  slosh: number;
  fillsMade: number;
  fill: RunningFill | null;
  /** Planned fills and losses already begun. */
  readonly begun: Set<object>;
}

interface RunningFill {
  readonly startedMs: number;
  readonly levelBeforePct: number;
  readonly batch: DefBatch;
  readonly litres: number;
  leftL: number;
}

/** Right DEF. Source: ISO 22241-1:2019 table 1. */
const rightBatch: DefBatch = { batchId: 'store', ureaRatio: 0.325 };
/** What a pump gives, L/s. Source: engineering judgement, 30 L/min. */
const pumpLPerS = 0.5;
/** The operator fills this long before the next start, s. Source: engineering judgement. */
const fillBeforeStartS = 420;
const filledPct = 90;
const dropOverS = 240;
/** Kilograms a litre; heats in kJ/kgK and degC. Source: domain notes 1.1. */
const kgPerL = 1.09;
const liquidKJPerKgK = 3.51;
const iceKJPerKgK = 2;
const freezingC = -11.5;
/** Loss of a 30 L tank, W/K: a full one follows the air within five hours. Source: engineering judgement. */
const lossWPerK = 6.4;
const referenceTankL = 30;
/** Heater of a 30 L tank, W, by coolant: on below, off above, degC; coolant has to be warm. Source: engineering judgement. */
const heaterW = 450;
const heaterOnC = 2;
const heaterOffC = 8;
const heaterCoolantC = 45;
/** DEF flows to the pump once this share has thawed. Source: engineering judgement; the heater sits at the pick-up. */
const flowingRatio = 0.12;
/** Slosh of a loaded and of an idling machine, % points, and its memory, s. Source: engineering judgement. */
const sloshLoadedPct = 1.1;
const sloshIdlePct = 0.15;
const sloshTauS = 5;
const sloshStep = Math.sqrt(2 / sloshTauS);
/** A quality sensor takes fluids outside of this urea share, in %, for wrong DEF. Source: engineering judgement. */
const judgedLowPct = 28;
const judgedHighPct = 37;

export function createDefTank(levelPct: number, tankL: number, tempC: number): DefTank {
  const litres = (levelPct / 100) * tankL;
  const frozenRatio = tempC < freezingC ? 1 : 0;
  return { litres, ureaRatio: 0.325, tempC, frozenRatio, slosh: 0, fillsMade: 0, fill: null, begun: new Set() };
}

/** Whether the pump gets DEF. */
export function isDefFlowing(tank: DefTank): boolean {
  return tank.litres > 0.05 && tank.frozenRatio < 1 - flowingRatio;
}

/** One second of the tank, after what was dosed in it, g/s. */
export function stepDefTank(
  tank: DefTank,
  second: Second,
  given: { options: AftertreatmentOptions; fillBelowPct: number; dosedGPerS: number; events: TruthEvent[] },
): void {
  const { defTankL } = second.profile;
  tank.litres = Math.max(0, tank.litres - given.dosedGPerS / (1000 * kgPerL));
  beginFill(tank, second, given);
  stepFill(tank, second, given.events);
  for (const drop of given.options.drops ?? []) takeDrop(tank, second, { drop, events: given.events });
  stepHeat(tank, second, given.options);
  readTank(tank, second, defTankL);
}

function beginFill(
  tank: DefTank,
  second: Second,
  { options, fillBelowPct }: { options: AftertreatmentOptions; fillBelowPct: number },
): void {
  if (tank.fill !== null) return;
  const { defTankL } = second.profile;
  const levelPct = (100 * tank.litres) / defTankL;
  for (const fill of options.fills ?? []) {
    if (second.sinceStartS < fill.atS || tank.begun.has(fill)) continue;
    tank.begun.add(fill);
    const litres = Math.min(fill.litres, defTankL - tank.litres);
    tank.fill = fillOf(second, { litres, batch: fill.batch ?? rightBatch, levelPct });
    return;
  }
  if (second.isKeyOn || second.untilStartS !== fillBeforeStartS || levelPct >= fillBelowPct) return;
  const batches = options.batches ?? [];
  const batch = batches[Math.min(tank.fillsMade, batches.length - 1)] ?? rightBatch;
  tank.fillsMade++;
  const litres = ((options.filledPct ?? filledPct) / 100) * defTankL - tank.litres;
  if (litres > 0) tank.fill = fillOf(second, { litres, batch, levelPct });
}

function fillOf(second: Second, of: { litres: number; batch: DefBatch; levelPct: number }): RunningFill {
  const { litres, batch, levelPct } = of;
  return { startedMs: second.timeMs, levelBeforePct: levelPct, batch, litres, leftL: litres };
}

function stepFill(tank: DefTank, second: Second, events: TruthEvent[]): void {
  const { fill } = tank;
  if (fill === null) return;
  const poured = Math.min(pumpLPerS, fill.leftL);
  const before = tank.litres;
  tank.litres = before + poured;
  const newRatio = tank.litres > 0 ? poured / tank.litres : 0;
  tank.ureaRatio += (fill.batch.ureaRatio - tank.ureaRatio) * newRatio;
  // It comes from a store above freezing, which is what thaws a frozen rest.
  tank.tempC += (Math.max(5, second.airC) - tank.tempC) * newRatio;
  tank.frozenRatio *= 1 - newRatio;
  fill.leftL -= poured;
  if (fill.leftL > 1e-9) return;
  events.push({
    kind: 'def-fill',
    startedMs: fill.startedMs,
    endedMs: second.timeMs + 1000,
    litres: fill.litres,
    levelBeforePct: fill.levelBeforePct,
    levelAfterPct: (100 * tank.litres) / second.profile.defTankL,
    batchId: fill.batch.batchId,
    batchUreaRatio: fill.batch.ureaRatio,
  });
  tank.fill = null;
}

function takeDrop(
  tank: DefTank,
  second: Second,
  { drop, events }: { drop: NonNullable<AftertreatmentOptions['drops']>[number]; events: TruthEvent[] },
): void {
  const overS = drop.overS ?? dropOverS;
  const intoS = second.sinceStartS - drop.atS;
  if (intoS < 0 || intoS >= overS) return;
  const before = tank.litres;
  tank.litres = Math.max(0, before - drop.litres / overS);
  if (intoS + 1 < overS) return;
  events.push({
    kind: 'def-drop',
    startedMs: second.timeMs - intoS * 1000,
    endedMs: second.timeMs + 1000,
    litres: drop.litres,
  });
}

/** Heat in and out, through freezing and thawing. Source: domain notes 1.1, fusion 270 kJ/kg. */
function stepHeat(tank: DefTank, second: Second, options: AftertreatmentOptions): void {
  const { readings, profile, sinceStartS } = second;
  const size = profile.defTankL / referenceTankL;
  const fault = options.heaterFault;
  const isDead = fault !== undefined && sinceStartS >= fault.fromS && sinceStartS < fault.toS;
  const isWarmEnough = tank.tempC >= (readings.defTankHeaterPct > 0 ? heaterOffC : heaterOnC);
  const isHeating = second.isBurning && readings.coolantTempC >= heaterCoolantC && !isWarmEnough;
  readings.defTankHeaterPct = isHeating ? 100 : 0;
  const kg = Math.max(0.5, tank.litres * kgPerL);
  const heatKJ = ((isHeating && !isDead ? heaterW * size : 0) - lossWPerK * size * (tank.tempC - second.airC)) / 1000;
  const isMelting = tank.tempC >= freezingC && tank.frozenRatio > 0 && heatKJ > 0;
  const isFreezing = tank.tempC <= freezingC && tank.frozenRatio < 1 && heatKJ < 0;
  if (isMelting || isFreezing) {
    tank.tempC = freezingC;
    tank.frozenRatio = Math.min(1, Math.max(0, tank.frozenRatio - heatKJ / (kg * defFusionKJPerKg)));
    return;
  }
  const cp = liquidKJPerKgK + (iceKJPerKgK - liquidKJPerKgK) * tank.frozenRatio;
  tank.tempC += heatKJ / (kg * cp);
}

function readTank(tank: DefTank, second: Second, tankL: number): void {
  const { readings, random, torqueRatio } = second;
  const aim = second.isBurning ? sloshIdlePct + (sloshLoadedPct - sloshIdlePct) * Math.sqrt(torqueRatio) : 0;
  tank.slosh += -tank.slosh / sloshTauS + aim * noise(random) * sloshStep;
  const isLiquid = tank.frozenRatio < 0.5;
  const slosh = second.isBurning && isLiquid ? tank.slosh : 0;
  readings.defLevelPct = Math.min(100, Math.max(0, (100 * tank.litres) / tankL + slosh));
  readings.defTempC = tank.tempC;
  const ureaPct = 100 * tank.ureaRatio;
  const canJudge = isLiquid && tank.litres > 0.05 * tankL;
  readings.defConcentrationPct = canJudge ? ureaPct + 0.1 * noise(random) : Number.NaN;
  const state = ureaPct < judgedLowPct ? 1 : ureaPct > judgedHighPct ? 0 : 3;
  readings.defPropertyState = canJudge ? state : 14;
}
