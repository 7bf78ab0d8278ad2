/** A coarse soot balance of the particulate filter, so that its own signal moves as one would. */

export interface SootConditions {
  readonly powerKW: number;
  readonly dpfTempC: number;
  readonly torqueRatio: number;
}

/** Engine-out soot, g/kWh, and at idle, g/h. Source: domain notes 2.4, 0.05-0.15 g/kWh, from memory. */
const sootGPerKWh = 0.09;
const idleSootGPerH = 0.8;
/** NO2 before the filter, ppm, without load and at full load. Source: domain notes 2.2 and 2.3, 100-300 ppm. */
const idleNo2Ppm = 60;
const loadNo2Ppm = 300;
/** NO2 oxidation: rate at 300 ppm and 350 C in 1/s, and activation energy in J/mol. Source: domain notes 2.2. */
const no2RatePerS = 1.5e-4;
const no2EnergyJPerMol = 60_000;
const referenceK = 623.15;
const gasConstantJPerMolK = 8.314;
const zeroCelsiusK = 273.15;

/** Soot in the filter one second later, in g. */
export function stepSoot(sootG: number, conditions: SootConditions): number {
  const madeGPerS = (idleSootGPerH + sootGPerKWh * conditions.powerKW) / 3600;
  const no2Ppm = idleNo2Ppm + (loadNo2Ppm - idleNo2Ppm) * conditions.torqueRatio;
  const inverseK = 1 / (conditions.dpfTempC + zeroCelsiusK) - 1 / referenceK;
  const ratePerS = no2RatePerS * (no2Ppm / 300) * Math.exp((-no2EnergyJPerMol / gasConstantJPerMolK) * inverseK);
  return sootG + madeGPerS - ratePerS * sootG;
}
