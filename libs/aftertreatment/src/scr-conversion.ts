/** What an SCR catalyst converts: by temperature and ammonia, and as two sensors see it. */

import type { CatalystFamily } from '@warmbrick/signals';
import { type Curve, interpolate } from './interpolate.js';

const tempsC = [100, 150, 175, 200, 225, 250, 300, 350, 400, 450, 500, 550, 750];
const curve = (...pct: readonly number[]): Curve => ({ x: tempsC, y: [0, ...pct, 0].map((value) => value / 100) });

/**
 * Conversion against temperature, for NO alone at 30 000 to 60 000 an hour and a catalyst in good order.
 * Source: from memory, each point good to 5 percent points (150 to 550 degC); the ends at 100 and 750 degC are engineering
 * judgement. Read in papers: copper zeolite about 100 % at 250 degC, iron-tungsten oxide over 90 % from 225-250 to 450 degC.
 */
const curves: Readonly<Record<Exclude<CatalystFamily, 'unspecified'>, Curve>> = {
  'copper-zeolite': curve(15, 40, 75, 90, 96, 98, 98, 97, 95, 90, 80),
  'iron-zeolite': curve(5, 10, 22, 40, 58, 82, 92, 96, 97, 96, 92),
  vanadia: curve(5, 15, 38, 60, 78, 92, 96, 96, 92, 80, 60),
};

/**
 * Share of the NOx that a catalyst family can convert at a temperature.
 *
 * Units: degC, result 0..1. Range: nought at and below 100 and at and above 750 degC. An unspecified family gets the least
 * of the known ones. Missing: NaN gives NaN. Source: from memory; see the table.
 */
export function scrConversionRatio(family: CatalystFamily, tempC: number): number {
  if (family !== 'unspecified') return interpolate(curves[family], tempC);
  return Math.min(...Object.values(curves).map((each) => interpolate(each, tempC)));
}

/**
 * Share converted when ammonia may be short.
 *
 * `ammoniaToNoxRatio` is NH3 for each NOx coming in, mole by mole. Range: 0..1, never more than there is ammonia for.
 * Missing: NaN gives NaN. Source: own arithmetic on the table; standard SCR takes one NH3 a NO.
 */
export function dosedConversionRatio(family: CatalystFamily, tempC: number, ammoniaToNoxRatio: number): number {
  return Math.min(scrConversionRatio(family, tempC), Math.max(0, ammoniaToNoxRatio));
}

/** Least NOx before the catalyst that a conversion can be told from, ppm. Source: from memory; sensors are good to 10-15 ppm. */
export const leastNoxForConversionPpm = 100;

/**
 * Conversion as two NOx sensors see it.
 *
 * Units: ppm, result a ratio. Range: at most 1; below nought when more comes out than goes in, as when the sensor behind
 * takes slipping ammonia for NOx. Missing: NaN when either is NaN or when less than 100 ppm comes in.
 * Source: own arithmetic, 1 - out / in.
 */
export function measuredConversionRatio(noxInPpm: number, noxOutPpm: number): number {
  if (!(noxInPpm >= leastNoxForConversionPpm)) return Number.NaN;
  return 1 - Math.max(0, noxOutPpm) / noxInPpm;
}
