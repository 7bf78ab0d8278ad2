/** Air-filter restriction, brought to rated flow. */

/** Most restriction at rated speed and full load, turbocharged, kPa. Source: read in US Army TM 5-3820-256-24-5 (25 inH2O). */
export const inletRestrictionLimitKPa = 6.2;
/** Restriction of a new filter at rated flow, kPa. Source: from memory (2 to 3). */
export const newFilterRestrictionKPa = 2.5;
/** Least share of rated flow from which restriction is worth reading. Source: engineering judgement; indicators read at full flow. */
export const leastFlowRatio = 0.5;

/** A column of water, kPa for each inch. Source: own arithmetic from the density of water at 4 degC. */
export const kPaPerInchOfWater = 0.249089;

/**
 * Restriction as it would be at rated flow.
 *
 * Pressure drop goes with the square of the flow. Units: kPa; flow and rated flow in the same unit. Range: nought and more.
 * Missing: NaN when anything is NaN, no rated flow is given, or the flow is under half of it, where the square would blow up
 * the sensor's error.
 * Source: own arithmetic; a clean filter's own law is a little flatter than the square.
 */
export function ratedRestrictionKPa(restrictionKPa: number, flow: number, ratedFlow: number): number {
  const share = flow / ratedFlow;
  if (!(ratedFlow > 0) || !(share >= leastFlowRatio)) return Number.NaN;
  return Math.max(0, restrictionKPa) / share ** 2;
}

/**
 * How far a filter is on its way from new to the limit.
 *
 * Units: kPa at rated flow. Range: 0 new, 1 at the limit, more when past it. Missing: NaN gives NaN. Snow and rain can read
 * falsely high. Source: limit read; new filter from memory.
 */
export function filterUsedRatio(
  ratedKPa: number,
  { newKPa = newFilterRestrictionKPa, limitKPa = inletRestrictionLimitKPa } = {},
): number {
  return Math.max(0, (ratedKPa - newKPa) / (limitKPa - newKPa));
}
