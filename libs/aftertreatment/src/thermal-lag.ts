/** How a mass of metal or ceramic follows a temperature. */

/**
 * Temperature after a step towards a steady one, exactly.
 *
 * Units: degC, seconds. Range: any step; never past the target. A time constant of nought arrives at once, an infinite one
 * never leaves. Missing: a NaN anywhere, or a time that is not above nought, leaves the temperature as it was.
 * Source: own arithmetic, first-order lag.
 */
export function stepTowardsC(
  tempC: number,
  targetC: number,
  { elapsedS, tauS }: { elapsedS: number; tauS: number },
): number {
  if (!(elapsedS > 0) || !(tauS >= 0) || targetC !== targetC) return tempC;
  return targetC + (tempC - targetC) * Math.exp(-elapsedS / tauS);
}

/**
 * Seconds until a lagging temperature passes a value.
 *
 * Units: degC, seconds. Range: 0 when it is there. Missing: null when the steady temperature lies short of the value or
 * just at it, or when a NaN comes in. Source: own arithmetic, tau ln((from - target) / (value - target)).
 */
export function secondsToReach(
  fromC: number,
  valueC: number,
  { targetC, tauS }: { targetC: number; tauS: number },
): number | null {
  if (fromC === valueC) return 0;
  const ratio = (fromC - targetC) / (valueC - targetC);
  return ratio > 1 && ratio < Number.POSITIVE_INFINITY ? tauS * Math.log(ratio) : null;
}

/** Lag of the turbine housing behind the gas, s. Source: from memory (60-90 s). */
export const turbineMetalTauS = 75;
/** Lag of a stopped turbine towards ambient, s. Source: engineering judgement; warm for about an hour. */
export const stoppedTurbineTauS = 2400;

/**
 * Temperature of the turbine housing after a step.
 *
 * `gasTempC` is the exhaust at the turbine; null while the engine stands, when the housing cools to the ambient.
 * Range and missing: as `stepTowardsC`. Source: domain notes, section 6: 60-90 s from memory.
 */
export function stepTurbineMetalC(
  metalTempC: number,
  { gasTempC, ambientC, elapsedS }: { gasTempC: number | null; ambientC: number; elapsedS: number },
): number {
  return gasTempC === null
    ? stepTowardsC(metalTempC, ambientC, { elapsedS, tauS: stoppedTurbineTauS })
    : stepTowardsC(metalTempC, gasTempC, { elapsedS, tauS: turbineMetalTauS });
}
