/** Tables of the soot model: what hangs on settings alone, by whole degrees, whole percent of load and classes of NO2. */

import {
  caughtSootGPerS,
  exhaustFlowFromFuelKgPerH,
  idleFuelLPerH,
  no2SootCapGPerS,
  sootRateByNo2PerS,
  sootRateByO2PerS,
} from '@warmbrick/aftertreatment';
import type { DetectorConfig } from './detector.js';
import { createTableCache } from './table-cache.js';

export const hottestC = 1100;
const degrees = hottestC + 1;
export const mostLoadPct = 250;
/** Density of diesel, kg/L. Source: domain notes, section 4.2 (0.835). */
const dieselKgPerL = 0.835;
/** Oxygen in the exhaust at light and full load is 15 and 7 %; one value. Source: engineering judgement. */
export const o2Ratio = 0.1;
/** NO2 where no NOx is sent: rises with load up to half load. Source: domain notes, section 2 (100-300 ppm); from memory. */
const no2IdlePpm = 100;
const no2LoadedPpm = 300;
const halfLoadPct = 50;
export const no2LoadedRatio = no2LoadedPpm * 1e-6;
/** Width of a class of NO2 and the highest. Source: engineering judgement; NOx sensors are good to 10 ppm, from memory. */
export const no2ClassPpm = 20;
const mostNo2Ppm = 600;
export const highestNo2Class = mostNo2Ppm / no2ClassPpm;
const no2Classes = highestNo2Class + 1;
/** Most soot that a class of NO2 burns, g/s for each kg/h of exhaust. */
export const capOfClass = no2SootCapGPerS(1, no2ClassPpm * 1e-6);
/** Numbers a percent of load. */
export const loadWidth = 4;
/** Load above which the NO2 runs short, where nothing burns: beyond any, g for a kg/h. */
const beyondG = 1e12;
/** Numbers a cell of `burning`, and a row of them: a degree. */
export const cellWidth = 3;
export const rowWidth = 1 + no2Classes * cellWidth;

export interface SootTable {
  readonly limitG: number;
  readonly litres: number;
  /**
   * A row a degree, side by side for the processor's sake. First the load above which the NO2 runs short, g for each kg/h
   * of exhaust, whatever the NO2 in it. Then a cell for each NO2 class: burn-off rate by NO2 and oxygen, what a second leaves of
   * the load, what a second of one g/s adds. Class 0 is oxygen alone.
   */
  readonly burning: Float64Array;
  /**
   * Four numbers for each percent of load: soot caught and exhaust for each L/h of fuel, fuel where none is sent, NO2 class where no
   * NOx is sent.
   */
  readonly byLoad: Float64Array;
  /** Exhaust at rated power. */
  readonly ratedFlowKgPerH: number;
}

/** Machines of one kind share a table; all that begin to burn at the same temperature share the kinetics. */
const tables = createTableCache<SootTable>();
const kinetics = createTableCache<Float64Array>();

/** Load at which the filter wants to be burnt off, in grams. */
export function sootLimitG(config: DetectorConfig): number {
  return config.profile.sootLimitGPerL * config.profile.particulateFilterL;
}

/** Below the dosing release temperature nothing burns in the model. */
export function burnFromC(config: DetectorConfig): number {
  return Math.min(config.profile.dosingReleaseTempC, config.window.lowC);
}

/** The tables of a machine, made when first wanted. */
export function sootTable(config: DetectorConfig): SootTable {
  const { profile } = config;
  const key = [
    burnFromC(config),
    sootLimitG(config),
    profile.particulateFilterL,
    profile.displacementL,
    profile.ratedPowerKW,
    profile.sootLevel,
  ].join();
  return tables.get(key) ?? tables.add(key, buildTable(config));
}

function buildTable(config: DetectorConfig): SootTable {
  const { profile } = config;
  const idleLPerH = idleFuelLPerH(profile.displacementL);
  // Full load burns the rated power's fuel, 226 g/kWh as in the nonroad inventory factors.
  const fullLPerH = (profile.ratedPowerKW * 0.2257) / dieselKgPerL;
  const byLoad = new Float64Array((mostLoadPct + 1) * loadWidth);
  for (let loadPct = 0; loadPct <= mostLoadPct; loadPct++) {
    const loadRatio = Math.min(1, loadPct / 100);
    const soot = caughtSootGPerS({ fuelKgPerH: dieselKgPerL, loadRatio, level: profile.sootLevel });
    const flow = exhaustFlowFromFuelKgPerH(dieselKgPerL, loadRatio);
    const fuel = idleLPerH + (fullLPerH - idleLPerH) * loadRatio;
    byLoad.set([soot, flow, fuel, no2ClassAt(loadPct)], loadPct * loadWidth);
  }
  const fromC = burnFromC(config);
  return {
    limitG: sootLimitG(config),
    litres: profile.particulateFilterL,
    burning: kinetics.get(`${fromC}`) ?? kinetics.add(`${fromC}`, buildKinetics(fromC)),
    byLoad,
    ratedFlowKgPerH: exhaustFlowFromFuelKgPerH(fullLPerH * dieselKgPerL, 1),
  };
}

/** Whole classes below the load, as the NO2 rises no faster than it is sure to. */
function no2ClassAt(loadPct: number): number {
  const rise = ((no2LoadedPpm - no2IdlePpm) * Math.min(halfLoadPct, loadPct)) / halfLoadPct;
  return Math.floor((no2IdlePpm + rise) / no2ClassPpm);
}

function buildKinetics(fromC: number): Float64Array {
  const burning = new Float64Array(degrees * rowWidth);
  for (let tempC = 0; tempC < degrees; tempC++) {
    const oxygen = tempC < fromC ? 0 : sootRateByO2PerS(tempC, o2Ratio);
    // The rate and the supply both go with the NO2, so that any NO2 gives the same kink.
    const full = tempC < fromC ? 0 : sootRateByNo2PerS(tempC, no2LoadedRatio);
    const row = tempC * rowWidth;
    burning[row] = full > 0 ? no2SootCapGPerS(1, no2LoadedRatio) / full : beyondG;
    for (let at = 0; at < no2Classes; at++) {
      const rate = oxygen + (full * at * no2ClassPpm) / no2LoadedPpm;
      burning.set(cellOf(rate), row + 1 + at * cellWidth);
    }
  }
  return burning;
}

function cellOf(ratePerS: number): [number, number, number] {
  return [ratePerS, Math.exp(-ratePerS), gainOf(ratePerS, 1)];
}

/** What one g/s leaves after so many seconds of a burn-off. */
export function gainOf(burnPerS: number, heldS: number): number {
  const x = burnPerS * heldS;
  return x > 1e-6 ? (1 - Math.exp(-x)) / burnPerS : heldS * (1 - x / 2);
}
