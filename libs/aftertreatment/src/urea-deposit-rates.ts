/** How fast urea deposits go, by kind. */

import { gasConstantJPerMolK, zeroCelsiusK } from './physical-constants.js';

/** First-order losses of the three pools, per second. */
export interface UreaDepositRates {
  /** Urea and biuret: gone by water, steam and decomposition. */
  readonly solublePerS: number;
  /** Cyanuric acid. */
  readonly cyanuricPerS: number;
  /** Ammelide and what is harder. */
  readonly ammelidePerS: number;
}

/**
 * First-order losses of the deposit pools at a wall temperature.
 *
 * Units: degC, per second. Range: any temperature; every rate grows with it. Missing: NaN gives NaN.
 * Source: read in a review's tables (Journal of Chemistry 2019/6853638), where exponents had lost their superscript, so
 * they are our reading: soluble = biuret to urea of Brack 2014 (1.107e20 per s, 208.23 kJ/mol); cyanuric acid and ammelide
 * of Ebrahimian 2012 (1.50e19, 260; 6.00e14, 220). The half-lives that follow agree with the mass-loss stages of Zhu 2021.
 */
export function ureaDepositRates(wallTempC: number): UreaDepositRates {
  return {
    solublePerS: rate(1.107e20, 208_230, wallTempC),
    cyanuricPerS: rate(1.5e19, 260_000, wallTempC),
    ammelidePerS: rate(6.0e14, 220_000, wallTempC),
  };
}

/**
 * Rate at which molten urea by itself decomposes to ammonia and isocyanic acid, per second.
 *
 * Range: any temperature. Missing: NaN gives NaN.
 * Source: read in the same review: Ebrahimian 2012, 8.50e6 per s, 84 kJ/mol.
 */
export function ureaDecompositionPerS(tempC: number): number {
  return rate(8.5e6, 84_000, tempC);
}

/**
 * Rate at which biuret goes back to urea, per second, by the older scheme.
 *
 * Range: any temperature. Missing: NaN gives NaN.
 * Source: read in the same review: Ebrahimian 2012, 1.50e24 per s, 250 kJ/mol; at 200 degC a third of the Brack rate.
 */
export function biuretDecompositionPerS(tempC: number): number {
  return rate(1.5e24, 250_000, tempC);
}

function rate(prefactorPerS: number, activationJPerMol: number, tempC: number): number {
  return prefactorPerS * Math.exp(-activationJPerMol / (gasConstantJPerMolK * Math.max(1, tempC + zeroCelsiusK)));
}
