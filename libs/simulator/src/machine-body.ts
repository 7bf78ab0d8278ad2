/** The physical machine: everything that has a temperature, a level or a count, stepped once a second. */

import type { MachineProfile } from '@warmbrick/signals';
import {
  type Aftertreatment,
  createAftertreatment,
  docAimC,
  docStep,
  stepAftertreatment,
} from './aftertreatment/aftertreatment.js';
import type { AftertreatmentOptions } from './aftertreatment/options.js';
import type { MovingSecond } from './aftertreatment/second.js';
import { sootAtTriggerG } from './aftertreatment/soot-filter.js';
import type { EngineMotion } from './engine-motion.js';
import { idleLoadPct } from './engine-motion.js';
import {
  brakePowerKW,
  type EngineSize,
  exhaustCpKJPerKgK,
  exhaustFlowKgPerH,
  fuelLPerH,
  steadyExhaustTempC,
} from './exhaust-gas.js';
import { blankReadings, type Readings, simulatedChannels } from './readings.js';
import { stepSoot } from './soot-load.js';
import { approach, type LumpStep, stepLump } from './thermal-lump.js';
import type { TruthEvent } from './truth.js';

export interface MachineBody {
  readonly readings: Readings;
  /** Turbine housing: gas leaves it hotter than it would while the housing cools. */
  turbineMetalTempC: number;
  sootG: number;
  /** Null on machines without `aftertreatment`: soot and DEF are then the plain ones of this file. */
  readonly aftertreatment: Aftertreatment | null;
}

export interface BodyStart {
  readonly ambientTempC: number;
  readonly engineHours: number;
  readonly idleHours: number;
  readonly defLevelPct: number;
  readonly sootPct: number;
  /** With it goes what it starts from and where its events go. */
  readonly aftertreatment: {
    readonly options: AftertreatmentOptions;
    readonly fillBelowPct: number;
    readonly events: TruthEvent[];
  } | null;
}

/** Rated speed, rpm. Source: engineering judgement, the usual range is 1800-2200. */
const ratedRpm = 1900;
/**
 * Lumps of the train behind a 6.7 L engine: pipe, DOC with DPF, SCR.
 * Source: domain notes 5.3, bricks of 22.5 kJ/K together, losses of 8 W/K; the pipe is engineering judgement.
 */
const pipe = { heatCapacityKJPerK: 1.2, lossWPerK: 0.8 } as const;
const filter = { heatCapacityKJPerK: 12.5, lossWPerK: 4 } as const;
const scr = { heatCapacityKJPerK: 10, lossWPerK: 4 } as const;
const referenceDisplacementL = 6.7;
/** Time constant of the turbine metal, s. Source: domain notes 6, 60-90 s from memory. */
const turbineTauS = 75;
/** The same standing still, s. Source: engineering judgement. */
const turbineStandingTauS = 1500;
/** How much of the difference to its housing the gas takes over. Source: engineering judgement. */
const housingExchangeRatio = 0.3;
/** Time constant of an exhaust temperature sensor, s. Source: engineering judgement. */
const sensorTauS = 4;
/** Coolant and oil: aims in degC, time constants in s. Source: engineering judgement. */
const coolantIdleC = 78;
const coolantLoadC = 88;
const coolantIdleTauS = 1200;
const coolantLoadTauS = 300;
const standingTauS = 10_800;
/** DEF follows ambient within hours; the heater holds it above freezing. Source: engineering judgement. */
const defTauS = 9000;
const defHeatedC = 8;
/** DEF dosed for each litre of fuel, by volume, once the SCR inlet is warm. Source: domain notes 1.3, 6 %. */
const defPerFuelRatio = 0.06;
/** Heat capacity of the gas that a regeneration heats, and heat and density of its fuel. Source: domain notes 4.2 and 5.1. */
const regenCpKJPerKgK = 1.1;
const fuelKJPerKg = 42_800;
const fuelKgPerL = 0.835;
/** What the oxidation catalyst takes over in a second without flow. Source: engineering judgement, 1200 s. */
const standingDocStep = 1 / 1200;
/** Density of DEF, kg/L. Source: ISO 22241-1:2019, 1087-1093 kg/m3. */
const defKgPerL = 1.09;
const secondsPerHour = 3600;

/** A machine that has stood long enough to be as cold as the air. */
export function createBody(start: BodyStart, profile: MachineProfile): MachineBody {
  const readings = blankReadings();
  for (const name of simulatedChannels) if (name.endsWith('TempC')) readings[name] = start.ambientTempC;
  readings.engineHours = start.engineHours;
  readings.idleHours = start.idleHours;
  readings.totalFuelL = start.engineHours * 12;
  readings.defLevelPct = start.defLevelPct;
  readings.dpfSootPct = start.sootPct;
  if (start.aftertreatment === null) {
    readings.docOutletTempC = Number.NaN;
    readings.dpfOutletTempC = Number.NaN;
  }
  const sootG = (start.sootPct / 100) * sootAtTriggerG(profile.particulateFilterL);
  return { readings, turbineMetalTempC: start.ambientTempC, sootG, aftertreatment: aftertreatmentOf(start, profile) };
}

function aftertreatmentOf(start: BodyStart, profile: MachineProfile): Aftertreatment | null {
  if (start.aftertreatment === null) return null;
  const { options, fillBelowPct, events } = start.aftertreatment;
  const ratedFlowKgPerH = exhaustFlowKgPerH({ speedRpm: ratedRpm, torqueRatio: 1 }, engineSize(profile));
  const engine = { ratedFlowKgPerH, fillBelowPct: options.fillBelowPct ?? fillBelowPct };
  return createAftertreatment(options, start, { profile, engine, events });
}

/** Brings the body one second on, with the engine turning as the motion says; fills in what the second says of the engine. */
export function stepBody(body: MachineBody, motion: EngineMotion, second: MovingSecond): void {
  const { readings } = body;
  const { profile, airC } = second;
  const isBurning = motion.speedRpm >= profile.runningRpm;
  readings.engineSpeedRpm = motion.speedRpm;
  readings.engineLoadPct = motion.loadPct;
  readings.ambientTempC = airC;
  const point = {
    speedRpm: motion.speedRpm,
    torqueRatio: Math.max(0, (motion.loadPct - idleLoadPct) / (100 - idleLoadPct)),
  };
  const size = engineSize(profile);
  readings.fuelRateLPerH = isBurning ? fuelLPerH(point, size) : 0;
  readings.exhaustFlowKgPerH = isBurning ? exhaustFlowKgPerH(point, size) : 0;
  const gasC = isBurning ? steadyExhaustTempC(point, airC) : airC;
  stepTrain(body, { gasC, airC, cpKJPerKgK: exhaustCpKJPerKgK(point), profile });
  stepFluids(body, { isBurning, torqueRatio: point.torqueRatio, profile });
  const powerKW = isBurning ? brakePowerKW(point, size) : 0;
  if (body.aftertreatment !== null) {
    second.isBurning = isBurning;
    second.torqueRatio = point.torqueRatio;
    second.powerKW = powerKW;
    stepAftertreatment(body.aftertreatment, second);
    return;
  }
  if (isBurning) {
    body.sootG = stepSoot(body.sootG, { powerKW, dpfTempC: readings.scrInletTempC, torqueRatio: point.torqueRatio });
  }
  readings.dpfSootPct = (100 * body.sootG) / sootAtTriggerG(profile.particulateFilterL);
}

/** Adds one second to the hour counters. */
export function countSecond(body: MachineBody, isRunning: boolean, isIdle: boolean): void {
  if (isRunning) body.readings.engineHours += 1 / secondsPerHour;
  if (isIdle) body.readings.idleHours += 1 / secondsPerHour;
}

interface TrainGas {
  readonly gasC: number;
  readonly airC: number;
  readonly cpKJPerKgK: number;
  readonly profile: MachineProfile;
}

function stepTrain(body: MachineBody, gas: TrainGas): void {
  const { readings } = body;
  const isFlowing = readings.exhaustFlowKgPerH > 0;
  body.turbineMetalTempC = approach(
    body.turbineMetalTempC,
    gas.gasC,
    1 / (isFlowing ? turbineTauS : turbineStandingTauS),
  );
  const metalC = body.turbineMetalTempC;
  const leavingC = isFlowing ? gas.gasC + housingExchangeRatio * (metalC - gas.gasC) : metalC;
  readings.turbineOutTempC = approach(readings.turbineOutTempC, leavingC, 1 / sensorTauS);
  readings.docInletTempC = passLump(body, gas, { tempC: readings.docInletTempC, gasTempC: leavingC, ...pipe });
  readings.dpfInletTempC = body.aftertreatment === null ? readings.docInletTempC : passCatalyst(body, isFlowing);
  const intoFilterC = readings.dpfInletTempC;
  readings.scrInletTempC = passLump(body, gas, { tempC: readings.scrInletTempC, gasTempC: intoFilterC, ...filter });
  const intoScrC = readings.scrInletTempC;
  readings.scrOutletTempC = passLump(body, gas, { tempC: readings.scrOutletTempC, gasTempC: intoScrC, ...scr });
  readings.exhaustTempC = readings.scrInletTempC;
}

/** Gas behind an oxidation catalyst that may burn fuel; gives its temperature and counts the fuel. */
function passCatalyst({ readings, aftertreatment }: MachineBody, isFlowing: boolean): number {
  const aimC = docAimC(aftertreatment as Aftertreatment, readings.docInletTempC);
  const heatK = isFlowing ? aimC - readings.docInletTempC : 0;
  readings.fuelRateLPerH += (readings.exhaustFlowKgPerH * regenCpKJPerKgK * heatK) / (fuelKJPerKg * fuelKgPerL);
  const step = isFlowing ? docStep : standingDocStep;
  readings.docOutletTempC += ((isFlowing ? aimC : readings.docInletTempC) - readings.docOutletTempC) * step;
  return readings.docOutletTempC;
}

type LumpNow = Pick<LumpStep, 'tempC' | 'gasTempC' | 'heatCapacityKJPerK' | 'lossWPerK'>;

/** One second of gas through a lump of this machine's size; gives the lump's temperature. */
function passLump(body: MachineBody, gas: TrainGas, lump: LumpNow): number {
  const scale = gas.profile.displacementL / referenceDisplacementL;
  return stepLump({
    tempC: lump.tempC,
    gasTempC: lump.gasTempC,
    ambientTempC: gas.airC,
    flowKgPerH: body.readings.exhaustFlowKgPerH,
    cpKJPerKgK: gas.cpKJPerKgK,
    heatCapacityKJPerK: lump.heatCapacityKJPerK * scale,
    lossWPerK: lump.lossWPerK * scale,
    elapsedS: 1,
  });
}

function stepFluids(
  body: MachineBody,
  engine: { isBurning: boolean; torqueRatio: number; profile: MachineProfile },
): void {
  const { readings } = body;
  const { profile } = engine;
  const aimC = engine.isBurning
    ? coolantIdleC + (coolantLoadC - coolantIdleC) * engine.torqueRatio
    : readings.ambientTempC;
  const runningTauS = coolantIdleTauS + (coolantLoadTauS - coolantIdleTauS) * Math.sqrt(engine.torqueRatio);
  const tauS = engine.isBurning ? runningTauS : standingTauS;
  readings.coolantTempC = approach(readings.coolantTempC, aimC, 1 / tauS);
  readings.oilTempC = approach(readings.oilTempC, engine.isBurning ? aimC + 8 : aimC, 1 / (1.5 * tauS));
  readings.totalFuelL += readings.fuelRateLPerH / secondsPerHour;
  if (body.aftertreatment !== null) return;
  const defAimC = engine.isBurning ? Math.max(defHeatedC, readings.ambientTempC) : readings.ambientTempC;
  readings.defTempC = approach(readings.defTempC, defAimC, 1 / defTauS);
  const isDosing = engine.isBurning && readings.scrInletTempC >= profile.dosingReleaseTempC;
  readings.defDosingGPerH = isDosing ? readings.fuelRateLPerH * defPerFuelRatio * defKgPerL * 1000 : 0;
  const defL = readings.defDosingGPerH / (1000 * defKgPerL * secondsPerHour);
  readings.defLevelPct = Math.max(0, readings.defLevelPct - (100 * defL) / profile.defTankL);
}

function engineSize(profile: MachineProfile): EngineSize {
  return { displacementL: profile.displacementL, ratedPowerKW: profile.ratedPowerKW, ratedRpm };
}
