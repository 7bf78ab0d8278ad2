/** Exhaust temperature behind the turbine from the energy in the fuel. */

import { type Curve, interpolate } from './interpolate.js';
import { fuelHeatKJPerKg, zeroCelsiusK } from './physical-constants.js';

/**
 * Share of the fuel's heat that leaves with the exhaust, and heat capacity of the gas in kJ/(kg K), against exhaust mass
 * for each mass of fuel: much work on the left, idle on the right.
 * Source: own arithmetic from two measured steady maps (0.22 at no load, 0.24 under load, best between 1400 and 2600 rpm);
 * 1.05 at idle and 1.10 under load are usual values. Straight lines between 30 and 55 are engineering judgement.
 */
const shareByGasToFuel: Curve = { x: [30, 55], y: [0.24, 0.22] };
const capacityByGasToFuel: Curve = { x: [30, 55], y: [1.1, 1.05] };

/**
 * Air for each mass of fuel against load, 0..1.
 * Source: own arithmetic from two measured steady maps between 1400 and 2600 rpm, middle of six load bands, mean of both
 * engines. A straight line from 55 to 23 reads 85 K too cold at half load on the same maps.
 */
const airToFuelByLoad: Curve = { x: [0, 0.08, 0.25, 0.5, 0.75, 0.93, 1], y: [55, 47, 36, 29, 25, 22.5, 22] };

/** Share of the swept volume that fills. Source: from memory. */
const fillingRatio = 0.9;
/** Gas constant of air, kJ/(kg K). Source: usual value. */
const airConstantKJPerKgK = 0.287;

/** Heat capacity of exhaust as it flows through bricks, kJ/(kg K). Source: read in SAE 880282 by way of a data file. */
export const exhaustHeatCapacityKJPerKgK = 1.089;

/** What the temperature is reckoned from. */
export interface ExhaustEnergy {
  readonly fuelKgPerH: number;
  readonly exhaustKgPerH: number;
  readonly ambientC: number;
  /** Share of the fuel's heat in the exhaust, learned on this machine; from the table when left out. */
  readonly heatShareRatio?: number;
}

/**
 * Steady exhaust temperature from fuel, exhaust flow and ambient.
 *
 * T = Tamb + f fuel LHV / (flow cp). Units: kg/h, degC. Range: without fuel the ambient temperature; never below it, and
 * never above 1100 degC. Missing: NaN, or fuel without any flow, gives NaN.
 * Source: domain notes, section 5.1. Against two measured maps of small diesels (1.7 and 1.9 L): between 1400 and 2600 rpm
 * within 30 K in the mean of a load band, single points up to 80 K off; below 1400 rpm 50 to 75 K too hot, above 2600 rpm
 * 80 to 120 K too cold. A machine's own share, learned where it has a sensor, takes the offset out.
 */
export function energyBalanceTempC(energy: ExhaustEnergy): number {
  const { fuelKgPerH, exhaustKgPerH, ambientC, heatShareRatio } = energy;
  if (fuelKgPerH <= 0 && exhaustKgPerH >= 0) return ambientC;
  if (!(exhaustKgPerH > 0)) return Number.NaN;
  const gasToFuel = exhaustKgPerH / fuelKgPerH;
  const share = heatShareRatio ?? interpolate(shareByGasToFuel, gasToFuel);
  const rise = (share * fuelHeatKJPerKg) / gasToFuel / interpolate(capacityByGasToFuel, gasToFuel);
  return Math.min(hottestC, ambientC + rise);
}

/** Hottest that a sensor can report, degC. Source: engineering judgement. */
const hottestC = 1100;

/**
 * Exhaust flow from fuel and load, where no air or exhaust flow is known.
 *
 * Units: kg/h; load 0..1 of the torque available. Range: loads outside are taken as the nearest end. Missing: NaN gives NaN.
 * Source: see the table, 55 at idle to 22 at full load; a tractor idled at 80.
 */
export function exhaustFlowFromFuelKgPerH(fuelKgPerH: number, loadRatio: number): number {
  return fuelKgPerH * (1 + interpolate(airToFuelByLoad, loadRatio));
}

/** What an engine breathes. */
export interface Breathing {
  readonly displacementL: number;
  readonly speedRpm: number;
  /** Absolute pressure and temperature in the intake manifold. */
  readonly intakeKPa: number;
  readonly intakeTempC: number;
}

/**
 * Air of a four-stroke engine from intake pressure and temperature, kg/h.
 *
 * Range: nought and more. Missing: NaN gives NaN. Without recirculated exhaust; with it the fresh air is less.
 * Source: own arithmetic (swept volume, ideal gas); 0.9 filling from memory.
 */
export function airFlowKgPerH({ displacementL, speedRpm, intakeKPa, intakeTempC }: Breathing): number {
  const densityKgPerM3 = intakeKPa / (airConstantKJPerKgK * (intakeTempC + zeroCelsiusK));
  return (displacementL / 1000) * (speedRpm / 2) * 60 * fillingRatio * densityKgPerM3;
}
