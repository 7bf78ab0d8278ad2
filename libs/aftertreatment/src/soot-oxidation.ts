/** How fast soot burns off by itself. */

import { carbonGPerMol, exhaustGPerMol, gasConstantJPerMolK, no2GPerMol, zeroCelsiusK } from './physical-constants.js';

/**
 * First-order rate of soot oxidation by NO2, per second.
 *
 * Units: temperature in degC, NO2 as a mole ratio (300e-6 is 300 ppm).
 * Range: any temperature; grows with temperature and NO2. Missing: NaN gives NaN.
 * Source: lumped model of the domain notes, section 2.2: activation energy 60 kJ/mol (thermogravimetric studies, from
 * memory); the prefactor of 1.5e-4 per second at 350 C and 300 ppm is a calibration choice, not a published constant.
 */
export function sootRateByNo2PerS(tempC: number, no2Ratio: number): number {
  return 1.5e-4 * (no2Ratio / 300e-6) * arrhenius(60_000, tempC, 623.15);
}

/**
 * First-order rate of soot oxidation by oxygen, per second.
 *
 * Units: temperature in degC, O2 as a mole ratio (0.10 is 10 %).
 * Range: any temperature; grows with temperature and O2. Missing: NaN gives NaN.
 * Source: domain notes, section 2.2: activation energy 150 kJ/mol; calibrated to 1.0e-3 per second at 600 C, within the
 * bounds 0.5e-3 to 3e-3 that follow from thermogravimetry and from the usual length of an active regeneration.
 */
export function sootRateByO2PerS(tempC: number, o2Ratio: number): number {
  return 1.0e-3 * (o2Ratio / 0.1) * arrhenius(150_000, tempC, 873.15);
}

/**
 * Share of the engine's NOx that is NO2 between oxidation catalyst and filter, while the filter burns anything.
 *
 * Source: 0.2-0.5 from memory, its middle. Equilibrium with 10 % oxygen allows 0.74 at 350, 0.56 at 400 and 0.39 at 450 degC
 * (own arithmetic from standard enthalpies and entropies). One value at all temperatures: what the equilibrium takes away above 450 degC is
 * little against what oxygen then burns, and a hotter filter must never look worse for it.
 */
export const no2OfNoxRatio = 0.35;

/** NO2 spent on a gram of soot, g/g, when it burns to CO2 (C + 2 NO2). Source: own arithmetic; half of it if to CO. */
export const no2GPerGSoot = (2 * no2GPerMol) / carbonGPerMol;

/**
 * Most soot that the NO2 of an exhaust stream can burn, grams a second, however much soot lies there.
 *
 * Units: exhaust in kg/h, NO2 as a mole ratio. Range: nought and more. Missing: NaN gives NaN.
 * Source: own arithmetic from C + 2 NO2 -> CO2 + 2 NO (7.66 g NO2 a gram); burning to CO would allow twice as much.
 */
export function no2SootCapGPerS(exhaustKgPerH: number, no2Ratio: number): number {
  return ((exhaustKgPerH / 3.6) * no2Ratio * (no2GPerMol / exhaustGPerMol)) / no2GPerGSoot;
}

function arrhenius(activationJPerMol: number, tempC: number, referenceK: number): number {
  return Math.exp(
    (-activationJPerMol / gasConstantJPerMolK) * (1 / Math.max(1, tempC + zeroCelsiusK) - 1 / referenceK),
  );
}
