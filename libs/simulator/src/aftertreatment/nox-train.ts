/** NOx from the engine, DEF for it, and what the SCR catalyst makes of both. */

import { expectedDefGPerH, noxConvertedByDefG, noxGPerH, scrConversionRatio } from '@warmbrick/aftertreatment';
import type { CatalystFamily } from '@warmbrick/signals';
import { noise } from './noise.js';
import { rateTable } from './rate-table.js';
import type { Second } from './second.js';

export interface NoxTrain {
  /** What the catalyst can convert by temperature: as new, and as worn as it is. */
  readonly newRatio: (tempC: number) => number;
  readonly ownRatio: (tempC: number) => number;
  /** Slow wandering of the engine-out NOx, in deviations. */
  wander: number;
  isReleased: boolean;
  conversionRatio: number;
  /** Running seconds, for the sensors to warm up. */
  warmS: number;
}

/** What the DEF side lets through. */
export interface DosingLimits {
  /** The doser gives nothing. */
  readonly isInterrupted: boolean;
  /** Deposits in the way of the spray. */
  readonly isBlocked: boolean;
  /** How far they have grown towards that, 0..1. */
  readonly blockedRatio: number;
  readonly ureaRatio: number;
}

/** Engine-out NOx without load and at full load, ppm. Source: domain notes 4.2 and 1.3, 800 ppm on an engine with SCR only. */
const idleNoxPpm = 190;
const fullLoadNoxPpm = 850;
/** Deviation of the wandering, and its memory, s. Source: engineering judgement. */
const wanderRatio = 0.05;
const wanderTauS = 120;
const wanderStep = Math.sqrt(2 / wanderTauS);
/** Dosing stops this much below its release, K, and rises to full over this much above it. Source: engineering judgement. */
const releaseDeadbandK = 8;
const releaseRampK = 25;
/** What the controller aims at, and the ammonia that it gives for it, NH3 a NOx. Source: engineering judgement. */
const aimedConversionRatio = 0.96;
const ammoniaToNoxRatio = 1.04;
/** Cold end lost by a worn-out catalyst, K, and conversion lost, ratio. Source: engineering judgement. */
const wornShiftK = 70;
const wornLossRatio = 0.3;
/**
 * A blocked spray: share of the DEF that still comes out, and share of its ammonia that mixes. What grows towards it disturbs
 * the mixing by the square: little at first. Source: engineering judgement.
 */
const blockedFlowRatio = 0.7;
const blockedMixingRatio = 0.5;
/** Ammonia stored on the catalyst smooths its conversion over this time, s. Source: engineering judgement. */
const storageTauS = 60;
const storageStep = 1 - Math.exp(-1 / storageTauS);
/** A NOx sensor measures from this gas temperature, degC, after this time, s. Source: engineering judgement, dew point. */
const sensorReadyC = 110;
const sensorReadyS = 120;

export function createNoxTrain(family: CatalystFamily, wearRatio: number): NoxTrain {
  const kept = 1 - wornLossRatio * wearRatio;
  return {
    newRatio: rateTable((tempC) => scrConversionRatio(family, tempC)),
    ownRatio: rateTable((tempC) => kept * scrConversionRatio(family, tempC - wornShiftK * wearRatio)),
    wander: 0,
    isReleased: false,
    conversionRatio: 0,
    warmS: 0,
  };
}

/** Engine-out NOx of this second, ppm; the soot needs it too. */
export function stepEngineNox(train: NoxTrain, second: Second): void {
  const { readings, random, torqueRatio } = second;
  train.wander += noise(random) * wanderStep - train.wander / wanderTauS;
  const steady = idleNoxPpm + (fullLoadNoxPpm - idleNoxPpm) * torqueRatio ** 0.8;
  readings.noxEngineOutPpm = second.isBurning ? steady * (1 + wanderRatio * train.wander) : 0;
}

/** Dosing and conversion of this second; gives what was dosed, g/s. */
export function stepNoxTrain(train: NoxTrain, second: Second, limits: DosingLimits): number {
  const { readings, isBurning, profile } = second;
  train.warmS = isBurning ? train.warmS + 1 : 0;
  const inletC = readings.scrInletTempC;
  const bedC = 0.5 * (inletC + readings.scrOutletTempC);
  const releaseC = profile.dosingReleaseTempC - (train.isReleased ? releaseDeadbandK : 0);
  train.isReleased = isBurning && inletC >= releaseC;
  const noxInGPerH = isBurning ? noxGPerH(readings.exhaustFlowKgPerH, readings.noxEngineOutPpm) : 0;
  const wanted = train.isReleased ? wantedDefGPerH(train, bedC, { noxInGPerH, aboveK: inletC - releaseC }) : 0;
  const given = limits.isInterrupted ? 0 : wanted * (limits.isBlocked ? blockedFlowRatio : 1);
  readings.defDosingRequestedGPerH = wanted;
  readings.defDosingGPerH = given;
  const hindered = limits.isBlocked ? 1 : limits.blockedRatio ** 2;
  const mixed = given * (1 - (1 - blockedMixingRatio) * hindered);
  const byAmmonia = noxInGPerH > 0 ? noxConvertedByDefG(mixed, limits.ureaRatio) / noxInGPerH : 0;
  const steady = Math.min(train.ownRatio(bedC), byAmmonia);
  train.conversionRatio += (steady - train.conversionRatio) * storageStep;
  readSensors(train, second);
  return given / 3600;
}

function wantedDefGPerH(train: NoxTrain, bedC: number, asked: { noxInGPerH: number; aboveK: number }): number {
  const conversionRatio =
    Math.min(aimedConversionRatio, train.newRatio(bedC)) * Math.min(1, asked.aboveK / releaseRampK);
  return expectedDefGPerH({ noxInGPerH: asked.noxInGPerH, conversionRatio, ammoniaToNoxRatio });
}

function readSensors(train: NoxTrain, { readings, random, isBurning }: Second): void {
  const isReady = isBurning && train.warmS >= sensorReadyS;
  const inPpm = readings.noxEngineOutPpm;
  const deviation = noise(random);
  readings.noxInPpm = isReady && readings.docInletTempC >= sensorReadyC ? inPpm + 4 * deviation : Number.NaN;
  const outPpm = inPpm * (1 - train.conversionRatio);
  readings.noxOutPpm =
    isReady && readings.scrOutletTempC >= sensorReadyC ? Math.max(0, outPpm + 3 * deviation) : Number.NaN;
}
