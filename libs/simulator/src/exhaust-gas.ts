/** What comes out of the engine in a steady state: fuel burnt, exhaust mass flow and temperature. */

/** Lower heating value of diesel, kJ/kg. Source: domain notes 5.1. */
const heatingValueKJPerKg = 42_800;
/** Density of diesel, kg/L. Source: domain notes 4.2. */
const fuelKgPerL = 0.835;
/** Idle fuel per litre of displacement at base idle, L/h. Source: domain notes 9, rule 0.25-0.35. */
const idleFuelLPerHPerL = 0.3;
/** Speed that the idle figures hold at, rpm. Source: common practice. */
const idleReferenceRpm = 950;
/** Fuel for each further kWh at the crank, g. With friction fuel it gives 226 g/kWh at rated power. Source: US EPA NR-009d. */
const marginalFuelGPerKWh = 193;
/** Air-fuel ratio that a full load tends to. Source: domain notes 5.1, 22-24 at full load. */
const fullLoadAirFuelRatio = 22;
/** Air-fuel ratio without load at base idle: 138 kg/h of exhaust on 2.03 L/h of fuel. Source: domain notes 5.1. */
const idleAirFuelRatio = 80;
/** Load share over which the ratio falls by a factor e, at working speed. Source: fitted to domain notes 5.2. */
const airFuelFallShare = 0.22;
/** Speed from which an engine works as at its best; below it the gas is leaner. Source: fitted to domain notes 5.2. */
const workingRpm = 1600;
/** How the no-load ratio falls with speed. Source: fitted to domain notes 5.2, no-load columns. */
const airFuelSpeedExponent = 0.4;
/** Share of fuel energy that leaves with the exhaust: idle and loaded. Source: domain notes 5.1 (0.22-0.25). */
const idleHeatRatio = 0.22;
const loadHeatRatio = 0.24;
/** Load share from which the loaded heat ratio holds. Source: domain notes 5.1, "from 5 % load". */
const heatRatioFullShare = 0.05;
/** Heat capacity of exhaust gas, kJ/kgK: idle and full load. Source: domain notes 5.1. */
const idleCpKJPerKgK = 1.05;
const loadCpKJPerKgK = 1.1;

export interface EnginePoint {
  readonly speedRpm: number;
  /** Brake torque as a share of the torque available at this speed, 0..1. */
  readonly torqueRatio: number;
}

export interface EngineSize {
  readonly displacementL: number;
  readonly ratedPowerKW: number;
  readonly ratedRpm: number;
}

/** Brake power in kW with a flat torque curve; 0 when standing. */
export function brakePowerKW(point: EnginePoint, size: EngineSize): number {
  return size.ratedPowerKW * point.torqueRatio * (point.speedRpm / size.ratedRpm);
}

/** Fuel burnt in L/h by a running engine. Range: 0.3 L/h per litre at idle, 226 g/kWh at rated power for 22 kW/L. */
export function fuelLPerH(point: EnginePoint, size: EngineSize): number {
  // Friction fuel grows with speed to the power of 1.5. Source: engineering judgement.
  const speedRatio = point.speedRpm / idleReferenceRpm;
  const friction = idleFuelLPerHPerL * size.displacementL * speedRatio * Math.sqrt(speedRatio);
  return friction + (marginalFuelGPerKWh * brakePowerKW(point, size)) / (1000 * fuelKgPerL);
}

/** Mass of air for each mass of fuel: high without load, falling to 22 at full load and working speed. */
export function airFuelRatio(point: EnginePoint): number {
  const speedRpm = Math.max(point.speedRpm, idleReferenceRpm / 2);
  const slowness = Math.max(1, workingRpm / speedRpm);
  const noLoad = idleAirFuelRatio * Math.min(1, idleReferenceRpm / speedRpm) ** airFuelSpeedExponent;
  const fullLoad = fullLoadAirFuelRatio * slowness ** airFuelSpeedExponent;
  return fullLoad + (noLoad - fullLoad) * Math.exp(-point.torqueRatio / (airFuelFallShare * slowness));
}

/** Heat capacity of the exhaust gas in kJ/kgK. */
export function exhaustCpKJPerKgK(point: EnginePoint): number {
  return idleCpKJPerKgK + (loadCpKJPerKgK - idleCpKJPerKgK) * point.torqueRatio;
}

/** Exhaust mass flow in kg/h. */
export function exhaustFlowKgPerH(point: EnginePoint, size: EngineSize): number {
  return fuelLPerH(point, size) * fuelKgPerL * (1 + airFuelRatio(point));
}

/**
 * Steady temperature behind the turbine in degC.
 *
 * Source: domain notes 5.1, T = Tamb + f x fuel x LHV / (exhaust flow x cp); the fuel flow cancels out.
 */
export function steadyExhaustTempC(point: EnginePoint, ambientTempC: number): number {
  const loaded = Math.min(1, point.torqueRatio / heatRatioFullShare);
  const heatRatio = idleHeatRatio + (loadHeatRatio - idleHeatRatio) * loaded;
  return ambientTempC + (heatRatio * heatingValueKJPerKg) / ((1 + airFuelRatio(point)) * exhaustCpKJPerKgK(point));
}
