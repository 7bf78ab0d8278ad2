/** Exhaust temperature behind the turbine of a warm engine, where no sensor tells it. */

/**
 * Steady exhaust temperature against load, in degC at 0, 10, 25, 50, 75, 100 % of the torque available at the speed.
 * Source: measured map of engine B at 1600 rpm, domain notes section 5.2 (two small diesels; ORNL data in NREL ADVISOR).
 */
const loadsPct = [0, 10, 25, 50, 75, 100] as const;
const tempsC = [129, 183, 243, 316, 392, 454] as const;

/**
 * Steady temperature behind the turbine at a load.
 *
 * Units: load in %, result in degC. Range: loads outside 0-100 % are taken as the nearest end.
 * Source: linear interpolation in the table above; a real engine may lie 50 K off either way.
 */
export function steadyTurbineOutTempC(loadPct: number): number {
  if (!(loadPct > 0)) return tempsC[0];
  for (let i = 1; i < loadsPct.length; i++) {
    const right = loadsPct[i] as number;
    if (loadPct <= right) {
      const left = loadsPct[i - 1] as number;
      const base = tempsC[i - 1] as number;
      return base + (((tempsC[i] as number) - base) * (loadPct - left)) / (right - left);
    }
  }
  return tempsC[tempsC.length - 1] as number;
}
