/** How fast soot burns off by itself. */

const gasConstantJPerMolK = 8.314;
const kelvin = 273.15;

/**
 * First-order rate of soot oxidation by NO2, per second.
 *
 * Units: temperature in degC, NO2 as a mole ratio (300e-6 is 300 ppm).
 * Range: any temperature; grows with temperature and NO2.
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
 * Source: domain notes, section 2.2: activation energy 150 kJ/mol; calibrated to 1.0e-3 per second at 600 C, within the
 * bounds 0.5e-3 to 3e-3 that follow from thermogravimetry and from the usual length of an active regeneration.
 */
export function sootRateByO2PerS(tempC: number, o2Ratio: number): number {
  return 1.0e-3 * (o2Ratio / 0.1) * arrhenius(150_000, tempC, 873.15);
}

function arrhenius(activationJPerMol: number, tempC: number, referenceK: number): number {
  return Math.exp((-activationJPerMol / gasConstantJPerMolK) * (1 / Math.max(1, tempC + kelvin) - 1 / referenceK));
}
