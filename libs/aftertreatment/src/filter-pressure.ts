/** Pressure drop of a particulate filter against flow and soot, and soot back from it. */

import { zeroCelsiusK } from './physical-constants.js';

/** Temperature that a flow is brought to, K. Source: engineering judgement, the middle of work (350 degC). */
const referenceK = 623.15;
/**
 * Drop through a wall goes with viscosity (T^0.7) times the volume of the gas (T^1).
 * Source: Darcy's law; 0.7 for the viscosity of gases near 350 degC is from memory.
 */
const dropExponent = 1.7;
/** Part of a clean filter's drop at rated flow that grows with the square of it: in and out of the channels. Source: from memory (0.2-0.4). */
export const inertialRatio = 0.3;
/**
 * What a gram of soot a litre adds to the drop of the clean wall, as a share of it, L/g.
 *
 * Source: engineering judgement. Layer of 90 kg/m3 and 2.3e-14 m2 on 0.9 m2 a litre, on a wall of 0.3 mm and 5e-13 m2 (all
 * from memory, in the form of Konstandopoulos and Johnson 1989) gives 0.8; soot that sits uneven adds less. Half to twice as
 * much is found on real filters.
 */
export const sootDropLPerG = 0.5;

/**
 * Exhaust flow as a share of the rated one, brought to 350 degC.
 *
 * Units: kg/h, degC. Range: nought and more. Missing: NaN gives NaN; no rated flow gives NaN or Infinity.
 * Source: Darcy's law with the viscosity of gases; see `dropExponent`.
 */
export function filterFlowRatio(exhaustKgPerH: number, ratedKgPerH: number, tempC: number): number {
  return (exhaustKgPerH / ratedKgPerH) * (Math.max(1, tempC + zeroCelsiusK) / referenceK) ** dropExponent;
}

/**
 * Pressure drop of the filter, kPa.
 *
 * Units: `cleanKPa` at a flow ratio of one and without soot; soot in g/L. Range: nought and more. Missing: NaN gives NaN.
 * Source: Darcy's law for wall and layer, the square of the flow for the channels; shares from memory.
 */
export function filterDropKPa(cleanKPa: number, flowRatio: number, sootGPerL: number): number {
  return cleanKPa * flowRatio * ((1 - inertialRatio) * (1 + sootDropLPerG * sootGPerL) + inertialRatio * flowRatio);
}

/** Clean drop at rated flow, kPa, of a filter that shows a drop with so much soot: `filterDropKPa` solved for it. */
export function cleanDropKPa(dropKPa: number, flowRatio: number, sootGPerL: number): number {
  return dropKPa / filterDropKPa(1, flowRatio, sootGPerL);
}

/**
 * Soot that a drop stands for, g/L: `filterDropKPa` solved for it.
 *
 * Range: below nought where the drop is less than the clean filter's. Missing: NaN gives NaN; no flow gives NaN or Infinity.
 */
export function sootFromDropGPerL(dropKPa: number, cleanKPa: number, flowRatio: number): number {
  return ((dropKPa / (cleanKPa * flowRatio) - inertialRatio * flowRatio) / (1 - inertialRatio) - 1) / sootDropLPerG;
}
