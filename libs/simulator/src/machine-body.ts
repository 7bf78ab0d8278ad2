/** The physical machine: everything that has a temperature, a level or a count, stepped once a second. */

import type { ChannelName, MachineProfile } from '@warmbrick/signals';
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
import { stepSoot } from './soot-load.js';
import { approach, type LumpStep, stepLump } from './thermal-lump.js';

/** Every quantity that a simulated machine can send. */
export const simulatedChannels = [
  'engineSpeedRpm',
  'engineLoadPct',
  'exhaustTempC',
  'turbineOutTempC',
  'docInletTempC',
  'dpfInletTempC',
  'scrInletTempC',
  'scrOutletTempC',
  'coolantTempC',
  'oilTempC',
  'ambientTempC',
  'fuelRateLPerH',
  'exhaustFlowKgPerH',
  'defLevelPct',
  'defTempC',
  'defDosingGPerH',
  'dpfSootPct',
  'engineHours',
  'idleHours',
  'totalFuelL',
] as const satisfies readonly ChannelName[];

export type SimulatedChannel = (typeof simulatedChannels)[number];

/** Readings of a machine at one second, by channel; mutable. */
type Readings = Record<SimulatedChannel, number>;

export interface MachineBody {
  readonly readings: Readings;
  /** Turbine housing: gas leaves it hotter than it would while the housing cools. */
  turbineMetalTempC: number;
  sootG: number;
}

export interface BodyStart {
  readonly ambientTempC: number;
  readonly engineHours: number;
  readonly idleHours: number;
  readonly defLevelPct: number;
  readonly sootPct: number;
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
  const sootG = (start.sootPct / 100) * sootAtTriggerG(profile);
  return { readings, turbineMetalTempC: start.ambientTempC, sootG };
}

/** Brings the body one second on, with the engine turning as the motion says. */
export function stepBody(
  body: MachineBody,
  motion: EngineMotion,
  world: { profile: MachineProfile; airC: number },
): void {
  const { readings } = body;
  const { profile } = world;
  const isBurning = motion.speedRpm >= profile.runningRpm;
  readings.engineSpeedRpm = motion.speedRpm;
  readings.engineLoadPct = motion.loadPct;
  readings.ambientTempC = world.airC;
  const point = {
    speedRpm: motion.speedRpm,
    torqueRatio: Math.max(0, (motion.loadPct - idleLoadPct) / (100 - idleLoadPct)),
  };
  const size = engineSize(profile);
  readings.fuelRateLPerH = isBurning ? fuelLPerH(point, size) : 0;
  readings.exhaustFlowKgPerH = isBurning ? exhaustFlowKgPerH(point, size) : 0;
  const gasC = isBurning ? steadyExhaustTempC(point, world.airC) : world.airC;
  stepTrain(body, { gasC, airC: world.airC, cpKJPerKgK: exhaustCpKJPerKgK(point), profile });
  stepFluids(body, { isBurning, torqueRatio: point.torqueRatio, profile });
  if (isBurning) {
    const powerKW = brakePowerKW(point, size);
    body.sootG = stepSoot(body.sootG, { powerKW, dpfTempC: readings.scrInletTempC, torqueRatio: point.torqueRatio });
  }
  readings.dpfSootPct = (100 * body.sootG) / sootAtTriggerG(profile);
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
  readings.dpfInletTempC = readings.docInletTempC;
  const intoFilterC = readings.docInletTempC;
  readings.scrInletTempC = passLump(body, gas, { tempC: readings.scrInletTempC, gasTempC: intoFilterC, ...filter });
  const intoScrC = readings.scrInletTempC;
  readings.scrOutletTempC = passLump(body, gas, { tempC: readings.scrOutletTempC, gasTempC: intoScrC, ...scr });
  readings.exhaustTempC = readings.scrInletTempC;
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
  const defAimC = engine.isBurning ? Math.max(defHeatedC, readings.ambientTempC) : readings.ambientTempC;
  readings.defTempC = approach(readings.defTempC, defAimC, 1 / defTauS);
  const isDosing = engine.isBurning && readings.scrInletTempC >= profile.dosingReleaseTempC;
  readings.defDosingGPerH = isDosing ? readings.fuelRateLPerH * defPerFuelRatio * defKgPerL * 1000 : 0;
  const defL = readings.defDosingGPerH / (1000 * defKgPerL * secondsPerHour);
  readings.defLevelPct = Math.max(0, readings.defLevelPct - (100 * defL) / profile.defTankL);
  readings.totalFuelL += readings.fuelRateLPerH / secondsPerHour;
}

/** Written out, because an object with its shape known from the start is read and written many times faster. */
function blankReadings(): Readings {
  return {
    engineSpeedRpm: 0,
    engineLoadPct: 0,
    exhaustTempC: 0,
    turbineOutTempC: 0,
    docInletTempC: 0,
    dpfInletTempC: 0,
    scrInletTempC: 0,
    scrOutletTempC: 0,
    coolantTempC: 0,
    oilTempC: 0,
    ambientTempC: 0,
    fuelRateLPerH: 0,
    exhaustFlowKgPerH: 0,
    defLevelPct: 0,
    defTempC: 0,
    defDosingGPerH: 0,
    dpfSootPct: 0,
    engineHours: 0,
    idleHours: 0,
    totalFuelL: 0,
  };
}

function engineSize(profile: MachineProfile): EngineSize {
  return { displacementL: profile.displacementL, ratedPowerKW: profile.ratedPowerKW, ratedRpm };
}

/** Soot at which the filter's own signal shows 100 %. Source: domain notes 2.5, trigger 3-5 g/L from memory. */
function sootAtTriggerG(profile: MachineProfile): number {
  return 4 * profile.particulateFilterL;
}
