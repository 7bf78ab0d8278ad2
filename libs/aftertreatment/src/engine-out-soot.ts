/** Soot that an engine makes, before any filter. */

import type { SootLevel } from '@warmbrick/signals';
import { type Curve, interpolate } from './interpolate.js';
import { sootCaughtRatio } from './soot-balance.js';

/**
 * Engine-out soot by kind of engine, g/kWh.
 *
 * Source: Tier 3 and Tier 4 interim without filter: read in the US nonroad inventory factors for 175-300 hp (0.22 and
 * 0.221 g/hp-h). EGR with filter 0.05-0.15 and SCR only 0.03-0.06 g/kWh: from memory, middle taken.
 */
export const engineOutSootGPerKWh: Readonly<Record<SootLevel, number>> = {
  'tier-3': 0.295,
  'tier-4-interim': 0.296,
  'tier-4-egr-filter': 0.1,
  'stage-5-scr-only': 0.045,
};

/** Fuel a kWh, g/kWh. Source: read in the US nonroad inventory factors (0.371 lb/hp-h). */
export const usualFuelGPerKWh = 225.7;

/**
 * Soot by fuel against load, g/kg, of two small diesels between 1400 and 2600 rpm, at the middle of six load bands.
 * Source: own arithmetic from measured steady maps (mean of both engines).
 */
const sootByLoad: Curve = { x: [0, 0.08, 0.25, 0.5, 0.75, 0.93], y: [0.47, 0.54, 0.82, 1.14, 0.88, 0.98] };
/** Mean of that table, for its shape alone. */
const meanSootGPerKg = 0.8;

/** Load rise at and above which the puff is at its largest, share of full load a second. Source: engineering judgement. */
const steepRisePerS = 0.25;
/** Soot in a steep rise against steady running. Source: from memory (1.5 to 2). */
const steepFactor = 2;

/**
 * Steady engine-out soot of the measured small diesels by fuel, g/kg, at a load.
 *
 * Units: load 0..1 of the torque available. Range: outside, the nearest end. Missing: NaN gives NaN.
 * Source: measured; see the table. Single points of the maps lie between 0.1 and 3 g/kg.
 */
export function measuredSootGPerKgFuel(loadRatio: number): number {
  return interpolate(sootByLoad, loadRatio);
}

/**
 * Factor on soot while the load rises.
 *
 * Units: share of full load a second. Range: 1 to 2. Missing: NaN gives 1, as if steady.
 * Source: factor from memory (1.5-2 in a rapid rise); straight line up to 25 % a second is engineering judgement.
 */
export function sootTransientFactor(loadRisePerS: number): number {
  if (!(loadRisePerS > 0)) return 1;
  return 1 + (steepFactor - 1) * Math.min(1, loadRisePerS / steepRisePerS);
}

/** What the engine does. */
export interface SootMaking {
  readonly fuelKgPerH: number;
  /** Share of the torque available, 0..1. */
  readonly loadRatio: number;
  readonly level: SootLevel;
  /** Load rise, share of full load a second; steady when left out. */
  readonly loadRisePerS?: number;
}

/**
 * Engine-out soot, g/s.
 *
 * Range: nought and more. Missing: NaN in fuel or load gives NaN.
 * Source: own arithmetic: level by kind of engine over the usual fuel, shaped over load like the measured maps.
 */
export function engineOutSootGPerS({ fuelKgPerH, loadRatio, level, loadRisePerS = 0 }: SootMaking): number {
  const gPerKgFuel = (engineOutSootGPerKWh[level] / usualFuelGPerKWh) * 1000;
  const shape = measuredSootGPerKgFuel(loadRatio) / meanSootGPerKg;
  return ((Math.max(0, fuelKgPerH) * gPerKgFuel) / 3600) * shape * sootTransientFactor(loadRisePerS);
}

/** Soot that the filter keeps of it, g/s. Missing: NaN gives NaN. Source: see `sootCaughtRatio`. */
export function caughtSootGPerS(making: SootMaking): number {
  return engineOutSootGPerS(making) * sootCaughtRatio;
}
