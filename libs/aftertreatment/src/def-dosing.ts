/** Urea and NOx: how much DEF a gram of NOx takes, and what follows. */

import {
  ammoniaGPerMol,
  defDensityKgPerL,
  defUreaRatio,
  exhaustGPerMol,
  fuelDensityKgPerL,
  no2GPerMol,
  ureaGPerMol,
} from './physical-constants.js';

/**
 * DEF for a gram of NOx counted as NO2, g/g: 60.055 / (2 x 46.0055) / 0.325 = 2.008, for one NH3 a NOx.
 * Source: own arithmetic from (NH2)2CO + H2O -> 2 NH3 + CO2 and 4 NH3 + 4 NO + O2 -> 4 N2 + 6 H2O. A urea molecule
 * gives two ammonia molecules; a figure without that two is double the truth.
 */
export const defGPerGNox = ureaGPerMol / (2 * no2GPerMol) / defUreaRatio;
/** Ammonia from a gram of DEF, g/g. Source: own arithmetic. */
export const ammoniaGPerGDef = (defUreaRatio * 2 * ammoniaGPerMol) / ureaGPerMol;
/** Ammonia for a gram of NOx counted as NO2, g/g. Source: own arithmetic. */
export const ammoniaGPerGNox = ammoniaGPerMol / no2GPerMol;

/**
 * Ammonia of a DEF against fresh DEF of 32.5 %.
 *
 * Units: urea as a ratio by mass, result a ratio. Range: nought and more. Missing: NaN gives NaN.
 * Source: own arithmetic; 25 % urea gives 0.769 of the ammonia.
 */
export function ammoniaShareRatio(ureaRatio: number): number {
  return Math.max(0, ureaRatio) / defUreaRatio;
}

/**
 * NOx in an exhaust stream, g/h, counted as NO2.
 *
 * Units: wet exhaust in kg/h, NOx in ppm by volume. Range: nought and more. Missing: NaN gives NaN.
 * Source: own arithmetic with 28.8 g/mol for the exhaust.
 */
export function noxGPerH(exhaustKgPerH: number, noxPpm: number): number {
  return exhaustKgPerH * noxPpm * 1e-3 * (no2GPerMol / exhaustGPerMol);
}

/** What a dosing is reckoned from. */
export interface DosingDemand {
  readonly noxInGPerH: number;
  /** Share of the NOx that is to be converted, 0..1. */
  readonly conversionRatio: number;
  /** NH3 for each NOx converted, mole by mole; 1 when left out. Above 1 for ammonia that slips or oxidises. */
  readonly ammoniaToNoxRatio?: number;
  /** Urea in the DEF by mass; 0.325 when left out. */
  readonly ureaRatio?: number;
}

/**
 * DEF that a conversion takes, g/h.
 *
 * Range: nought and more; a weaker DEF takes more of it. Missing: NaN gives NaN, no urea gives Infinity.
 * Source: own arithmetic; see `defGPerGNox`.
 */
export function expectedDefGPerH(demand: DosingDemand): number {
  const { noxInGPerH, conversionRatio, ammoniaToNoxRatio = 1, ureaRatio = defUreaRatio } = demand;
  return (defGPerGNox * ammoniaToNoxRatio * conversionRatio * noxInGPerH) / ammoniaShareRatio(ureaRatio);
}

/**
 * NOx that an amount of DEF can convert, g (counted as NO2), if every ammonia finds a NOx.
 *
 * Units: g and ratio by mass. Missing: NaN gives NaN. Source: own arithmetic, 0.498 g a gram.
 */
export function noxConvertedByDefG(defG: number, ureaRatio: number = defUreaRatio): number {
  return (defG / defGPerGNox) * ammoniaShareRatio(ureaRatio);
}

/**
 * DEF against fuel by volume, as a ratio, from the NOx that is taken out.
 *
 * Units: g/kWh each. Range: nought and more. Missing: NaN gives NaN.
 * Source: own arithmetic with 1.090 and 0.835 kg/L; 0.716 % for each g/kWh at 215 g fuel a kWh. Machines differ: measured
 * 6.9 % on one Stage V tractor, 2-3 % with EGR from memory.
 */
export function defToFuelRatio(noxRemovedGPerKWh: number, fuelGPerKWh: number): number {
  return (defGPerGNox * noxRemovedGPerKWh) / defDensityKgPerL / (fuelGPerKWh / fuelDensityKgPerL);
}

/** NOx taken out, g/kWh, that a DEF-to-fuel ratio by volume stands for: the inverse of `defToFuelRatio`. */
export function noxRemovedGPerKWh(defPerFuelRatio: number, fuelGPerKWh: number): number {
  return (defPerFuelRatio * (fuelGPerKWh / fuelDensityKgPerL) * defDensityKgPerL) / defGPerGNox;
}
