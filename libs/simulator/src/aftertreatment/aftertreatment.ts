/** The aftertreatment of one machine: filter, SCR, DEF tank, air filter and the controller over them, stepped once a second. */

import type { MachineProfile } from '@warmbrick/signals';
import type { TruthEvent } from '../truth.js';
import { type AirFilter, stepAirFilter } from './air-filter.js';
import { type ConversionWatch, createConversionWatch, watchConversion } from './conversion-watch.js';
import { createDefTank, type DefTank, isDefFlowing, stepDefTank } from './def-tank.js';
import { type Deposits, noDeposits, stepDeposits } from './deposits.js';
import {
  createFaultController,
  endedDerate,
  type FaultController,
  isLookDue,
  stepFaultController,
} from './fault-controller.js';
import { createNoxTrain, type NoxTrain, stepEngineNox, stepNoxTrain } from './nox-train.js';
import type { AftertreatmentOptions, InducementHours, Stretch } from './options.js';
import { noRegeneration, type Regeneration, stepRegeneration } from './regeneration.js';
import type { Second } from './second.js';
import { type SootFilter, sootAtTriggerG, stepSootFilter } from './soot-filter.js';
import { createSpells } from './spells.js';
import { labelStates } from './state-labels.js';

export interface Aftertreatment {
  readonly options: AftertreatmentOptions;
  readonly engine: AftertreatmentEngine;
  readonly events: TruthEvent[];
  readonly spells: ReturnType<typeof createSpells>;
  readonly filter: SootFilter;
  readonly regeneration: Regeneration;
  readonly nox: NoxTrain;
  readonly deposits: Deposits;
  readonly tank: DefTank;
  readonly airFilter: AirFilter;
  readonly controller: FaultController;
  readonly conversion: ConversionWatch;
  /** The states that hold, as flags; `state-labels.ts` has their meaning. */
  labelled: number;
  wasBurning: boolean;
  /** All the time that regenerations have waited, s. */
  readonly wait: { runningS: number; inhibitedS: number };
}

/** What the engine in front of it is like. */
export interface AftertreatmentEngine {
  readonly ratedFlowKgPerH: number;
  readonly fillBelowPct: number;
}

export interface AftertreatmentStart {
  readonly ambientTempC: number;
  readonly defLevelPct: number;
  readonly sootPct: number;
}

const defaultAshPct = 20;
const defaultAirFilterUsedRatio = 0.2;
/** Source: domain notes 7.2, engine hours from memory. */
const defaultInducementHours: InducementHours = [10, 20];
/** Below this gas temperature before the oxidation catalyst its fuel does not burn, degC. Source: engineering judgement. */
const fuelBurnsC = 170;
/** Time constant of the oxidation catalyst's outlet, s. Source: engineering judgement. */
const docTauS = 25;
/** What the outlet takes over in a second. */
export const docStep = 1 - Math.exp(-1 / docTauS);

/** A system as it stands at birth; what ends in it goes to the events. */
export function createAftertreatment(
  options: AftertreatmentOptions,
  start: AftertreatmentStart,
  of: { profile: MachineProfile; engine: AftertreatmentEngine; events: TruthEvent[] },
): Aftertreatment {
  const { profile, engine, events } = of;
  const sootG = (start.sootPct / 100) * sootAtTriggerG(profile.particulateFilterL);
  return {
    options,
    engine,
    events,
    spells: createSpells(events),
    filter: { sootG, ashPct: options.ashPct ?? defaultAshPct, torqueRatio: 0 },
    regeneration: noRegeneration(),
    nox: createNoxTrain(profile.catalystFamily, options.scrWearRatio ?? 0),
    deposits: noDeposits(),
    tank: createDefTank(start.defLevelPct, profile.defTankL, start.ambientTempC),
    airFilter: { usedRatio: options.airFilterUsedRatio ?? defaultAirFilterUsedRatio },
    controller: createFaultController(),
    conversion: createConversionWatch(),
    labelled: 0,
    wasBurning: false,
    wait: { runningS: 0, inhibitedS: 0 },
  };
}

/** Gas behind the oxidation catalyst as it would settle, degC: what goes in, or the aim of a regeneration. */
export function docAimC(aftertreatment: Aftertreatment, docInletTempC: number): number {
  const { targetTempC, wanderK } = aftertreatment.regeneration;
  const isBurning = targetTempC !== null && docInletTempC >= fuelBurnsC;
  return isBurning ? Math.max(targetTempC + wanderK, docInletTempC) : docInletTempC;
}

/** One second, after the exhaust train has been stepped. */
export function stepAftertreatment(aftertreatment: Aftertreatment, second: Second): void {
  const { options, engine, events, tank, nox, deposits } = aftertreatment;
  const { readings, sinceStartS } = second;
  const isInhibited = options.inhibited?.some((stretch) => isIn(stretch, sinceStartS)) ?? false;
  const isDoserDead = options.doserFault !== undefined && isIn(options.doserFault, sinceStartS);
  readings.dpfOutletTempC = readings.scrInletTempC;
  stepEngineNox(nox, second);
  stepSootFilter(aftertreatment.filter, second, {
    sootFactor: options.sootFactor ?? 1,
    ratedFlowKgPerH: engine.ratedFlowKgPerH,
  });
  stepRegeneration(aftertreatment.regeneration, second, { isInhibited, events });
  const isInterrupted = isDoserDead || !isDefFlowing(tank);
  const { isBlocked, blockedRatio } = deposits;
  const limits = { isInterrupted, isBlocked, blockedRatio, ureaRatio: tank.ureaRatio };
  const dosedGPerS = stepNoxTrain(nox, second, limits);
  stepDeposits(deposits, second, { gPerS: dosedGPerS, factor: options.depositFactor ?? 1 });
  stepDefTank(tank, second, { options, fillBelowPct: engine.fillBelowPct, dosedGPerS, events });
  stepAirFilter(aftertreatment.airFilter, second, {
    dustFactor: options.dustFactor ?? 1,
    ratedFlowKgPerH: engine.ratedFlowKgPerH,
  });
  watchConversion(aftertreatment, second);
  if (isLookDue(aftertreatment.controller, second)) control(aftertreatment, second);
  labelStates(aftertreatment, second, isInhibited);
  readings.torqueLimitPct = aftertreatment.controller.torqueLimitPct;
  readings.inducementSeverity = aftertreatment.controller.severity;
}

/** What goes on in it at a time, as events that end there. */
export function ongoingEvents(aftertreatment: Aftertreatment, timeMs: number): TruthEvent[] {
  const { derate } = aftertreatment.controller;
  const ongoing = aftertreatment.spells.ongoing(timeMs);
  return derate === null ? ongoing : [...ongoing, endedDerate(derate, timeMs)];
}

function control(aftertreatment: Aftertreatment, second: Second): void {
  const { tank, options, conversion } = aftertreatment;
  const heater = options.heaterFault;
  stepFaultController(aftertreatment.controller, second, {
    hours: options.inducementHours ?? defaultInducementHours,
    events: aftertreatment.events,
    symptoms: {
      isBurning: second.isBurning,
      defLevelPct: (100 * tank.litres) / second.profile.defTankL,
      isDefEmpty: tank.litres <= 0.05,
      ureaRatio: tank.ureaRatio,
      isDefFrozen: tank.frozenRatio >= 0.88,
      isHeaterDead: heater !== undefined && isIn(heater, second.sinceStartS),
      isDosingFailing: conversion.isDosingFailing,
      isBlocked: aftertreatment.deposits.isBlocked,
      isConversionLow: conversion.isLow,
      sootPct: second.readings.dpfSootPct,
    },
  });
}

function isIn({ fromS, toS }: Stretch, sinceStartS: number): boolean {
  return sinceStartS >= fromS && sinceStartS < toS;
}
