/** Whether the catalyst converts what a sound one would, judged only while it is hot enough to tell. */

import type { NoxLossCause } from '../truth.js';
import type { Aftertreatment } from './aftertreatment.js';
import type { Second } from './second.js';

export interface ConversionWatch {
  /** As last seen while DEF was asked for. */
  isDosingFailing: boolean;
  /** As last seen while hot: far too little is converted. */
  isLow: boolean;
  /** Hot seconds with too little conversion, less those with enough; 0 to `lossHeldS`. */
  lossS: number;
  lossStartedMs: number;
  /** Since when NOx conversion counts as lost; null while it does not. */
  cause: NoxLossCause | null;
}

/** Hot enough to judge, degC. Source: domain notes 4.1, catalysts convert from 250 C up. */
const hotC = 250;
/** Conversion against a sound one's that counts as lost, and as failing. Source: engineering judgement. */
const lostRatio = 0.85;
const failingRatio = 0.6;
/** Hot seconds after which a loss counts. Source: engineering judgement. */
const lossHeldS = 1800;
const leastUreaRatio = 0.29;
/** Deposits towards a blockage that take enough conversion by themselves. Source: the mixing of nox-train.ts, 15 % lost. */
const hinderedRatio = 0.54;

export function createConversionWatch(): ConversionWatch {
  return { isDosingFailing: false, isLow: false, lossS: 0, lossStartedMs: 0, cause: null };
}

/** One second of watching. */
export function watchConversion(aftertreatment: Aftertreatment, second: Second): void {
  const { conversion, nox } = aftertreatment;
  const { readings, timeMs } = second;
  if (readings.defDosingRequestedGPerH > 0) conversion.isDosingFailing = readings.defDosingGPerH === 0;
  const bedC = 0.5 * (readings.scrInletTempC + readings.scrOutletTempC);
  if (!second.isBurning || !nox.isReleased || bedC < hotC) return;
  const sound = Math.min(0.96, nox.newRatio(bedC));
  conversion.isLow = nox.conversionRatio < failingRatio * sound;
  if (nox.conversionRatio < lostRatio * sound) {
    if (conversion.lossS === 0) conversion.lossStartedMs = timeMs;
    conversion.lossS = Math.min(lossHeldS, conversion.lossS + 1);
    if (conversion.lossS === lossHeldS) conversion.cause ??= causeOf(aftertreatment, readings.defDosingGPerH === 0);
    return;
  }
  conversion.lossS = Math.max(0, conversion.lossS - 1);
  if (conversion.lossS === 0) conversion.cause = null;
}

function causeOf({ deposits, tank }: Aftertreatment, isUndosed: boolean): NoxLossCause {
  if (isUndosed) return 'dosing';
  if (deposits.isBlocked || deposits.blockedRatio > hinderedRatio) return 'blockage';
  return tank.ureaRatio < leastUreaRatio ? 'def-quality' : 'wear';
}
