/** The intake air filter: it clogs with running hours and dust. */

import { inletRestrictionLimitKPa, newFilterRestrictionKPa } from '@warmbrick/aftertreatment';
import { noise } from './noise.js';
import type { Second } from './second.js';

export interface AirFilter {
  /** 0 new, 1 at its limit. */
  usedRatio: number;
}

/** Hours from new to the limit. Source: domain notes 10, 500-1000 h from memory; dusty work. */
const usualLifeH = 600;
/** A filter beyond this is changed, whatever it costs. Source: engineering judgement. */
const changedAtRatio = 1.8;
const noiseRatio = 0.02;

/** Restriction at rated flow, kPa. */
export function restrictionAtRatedKPa(usedRatio: number): number {
  return newFilterRestrictionKPa + (inletRestrictionLimitKPa - newFilterRestrictionKPa) * usedRatio;
}

/** One second; the reading goes with the square of the flow. Source: domain notes 10. */
export function stepAirFilter(
  filter: AirFilter,
  second: Second,
  engine: { dustFactor: number; ratedFlowKgPerH: number },
): void {
  const { readings, random } = second;
  if (second.isBurning) filter.usedRatio += engine.dustFactor / usualLifeH / 3600;
  if (filter.usedRatio >= changedAtRatio && !second.isKeyOn) filter.usedRatio = 0;
  const flow = readings.exhaustFlowKgPerH / engine.ratedFlowKgPerH;
  const deviation = 1 + noiseRatio * noise(random);
  readings.airFilterDeltaPressureKPa = restrictionAtRatedKPa(filter.usedRatio) * flow * flow * deviation;
}
