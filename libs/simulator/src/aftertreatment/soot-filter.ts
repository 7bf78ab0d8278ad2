/** The particulate filter: soot that comes in and burns, ash, pressure drop. Numbers of its own, not those of the analysis. */

import { no2SootCapGPerS } from '@warmbrick/aftertreatment';
import { noise } from './noise.js';
import { arrhenius, rateTable } from './rate-table.js';
import type { Second } from './second.js';

export interface SootFilter {
  sootG: number;
  ashPct: number;
  torqueRatio: number;
}

/** Soot at idle, g/h, and a kWh, g: more a kWh at low load. Source: domain notes 2.4, from memory, upper half of the range. */
const idleSootGPerH = 0.8;
const lowLoadSootGPerKWh = 0.12;
const fullLoadSootGPerKWh = 0.075;
/** Puff while the load rises, and the rise, share of full load a second, that gives all of it. Source: domain notes 2.4. */
const puffRatio = 0.8;
const steepRisePerS = 0.2;
/** Share that the filter keeps. Source: domain notes 2.2. */
const caughtRatio = 0.98;
/** Oxidation by NO2, 1/s at 300 ppm and 350 C; by O2 at 10 % and 600 C. Source: domain notes 2.1 and 2.2, other picks within the ranges. */
const byNo2PerS = rateTable(arrhenius(1.8e-4, 55_000, 350));
const byO2PerS = rateTable(arrhenius(1.4e-3, 142_000, 600));
/** Share of NOx that is NO2 behind the oxidation catalyst: peak, where, and width, K. Source: engineering judgement. */
const no2PeakRatio = 0.45;
const no2PeakC = 320;
const no2WidthK = 110;
const no2ShareRatio = rateTable((tempC) => no2PeakRatio * Math.exp(-(((tempC - no2PeakC) / no2WidthK) ** 2)));
/** Oxygen without load and at full load. Source: engineering judgement from the air-fuel ratios of domain notes 5.1. */
const idleO2Ratio = 0.17;
const fullLoadO2Ratio = 0.08;
/** Ash a running hour, % of what wants cleaning. Source: domain notes 2.5, 4500 h, from memory. */
const ashPctPerH = 100 / 4500;
/** Pressure drop of a clean filter at rated flow, kPa; factors for soot at its trigger and for full ash. Source: engineering judgement. */
const cleanKPa = 3.2;
const sootDropFactor = 1.7;
const ashDropFactor = 0.7;
/** Most that a filter holds, times the trigger: the engine is stopped before. Source: domain notes 2.5, 8-10 g/L at most. */
const fullestRatio = 2.4;
const secondsPerHour = 3600;

/** Soot at which the machine's own signal shows 100 %. Source: domain notes 2.5, trigger 3-5 g/L from memory. */
export function sootAtTriggerG(particulateFilterL: number): number {
  return 4 * particulateFilterL;
}

/** One second of soot and ash, and of the readings that hang on them. `ratedFlowKgPerH` is the engine's flow at rated power. */
export function stepSootFilter(
  filter: SootFilter,
  second: Second,
  engine: { sootFactor: number; ratedFlowKgPerH: number },
): void {
  const { readings, torqueRatio, profile } = second;
  const triggerG = sootAtTriggerG(profile.particulateFilterL);
  if (second.isBurning) {
    const made = sootMadeGPerS(filter, second) * engine.sootFactor * caughtRatio;
    filter.sootG = Math.min(fullestRatio * triggerG, Math.max(0, filter.sootG + made - sootBurntGPerS(filter, second)));
    filter.ashPct += ashPctPerH / secondsPerHour;
  }
  filter.torqueRatio = torqueRatio;
  readings.dpfSootPct = (100 * filter.sootG) / triggerG;
  readings.dpfAshPct = filter.ashPct;
  const density = (readings.dpfInletTempC + 273) / 623;
  const flow = (readings.exhaustFlowKgPerH / engine.ratedFlowKgPerH) * density;
  const cake = 1 + (sootDropFactor * filter.sootG) / triggerG + (ashDropFactor * filter.ashPct) / 100;
  const clean = cleanKPa * flow * (0.6 * cake + 0.4 * flow);
  readings.dpfDeltaPressureKPa = second.isBurning ? Math.max(0, clean * (1 + 0.02 * noise(second.random))) : 0;
}

function sootMadeGPerS(filter: SootFilter, { torqueRatio, powerKW }: Second): number {
  const perKWh = lowLoadSootGPerKWh + (fullLoadSootGPerKWh - lowLoadSootGPerKWh) * torqueRatio;
  const rise = Math.min(1, Math.max(0, torqueRatio - filter.torqueRatio) / steepRisePerS);
  return ((idleSootGPerH + perKWh * powerKW) * (1 + puffRatio * rise)) / secondsPerHour;
}

function sootBurntGPerS(filter: SootFilter, { readings, torqueRatio }: Second): number {
  const bedC = readings.dpfOutletTempC;
  const no2Ratio = 1e-6 * readings.noxEngineOutPpm * no2ShareRatio(readings.docOutletTempC);
  const byNo2 = filter.sootG * byNo2PerS(bedC) * (no2Ratio / 300e-6);
  const o2Ratio = idleO2Ratio + (fullLoadO2Ratio - idleO2Ratio) * torqueRatio;
  const byO2 = filter.sootG * byO2PerS(bedC) * (o2Ratio / 0.1);
  return Math.min(byNo2, no2SootCapGPerS(readings.exhaustFlowKgPerH, no2Ratio)) + byO2;
}
