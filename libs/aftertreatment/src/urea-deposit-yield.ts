/** What part of the dosed urea stays on the wall. */

import { type Curve, interpolate } from './interpolate.js';

/**
 * Share of dosed urea that sticks, against wall temperature: natural logarithm of 5, 2, 0.5 and 0.1 %.
 * Source: bands from memory (5 % below 200 degC, 2 % to 250, 0.5 % to 300, 0.1 % above); here one continuous curve through
 * the middle of the bands. That it falls with temperature was read in engine tests (Strots 2010); with a heated mixer less
 * than 1 % near 200 degC was read (SAE abstract of 2024), so these are for exhaust without one.
 */
const stickingByWall: Curve = { x: [190, 225, 275, 310], y: [0.05, 0.02, 0.005, 0.001].map(Math.log) };

/** How much the spray cools the wall at full dosing, K. Source: from memory (20 to 60 K). */
export const sprayCoolingK = 40;

/**
 * Share of dosed urea that stays on a wall.
 *
 * Units: degC, result 0..1. Range: 0.001 to 0.05, never rising with temperature. Missing: NaN gives NaN.
 * Source: see the table; a guess in size, supported in direction.
 */
export function ureaStickingRatio(wallTempC: number): number {
  return Math.exp(interpolate(stickingByWall, wallTempC));
}

/**
 * Temperature of the wall that the spray meets.
 *
 * Units: degC; dosing as a share of full dosing, 0..1. Range: dosing outside is taken as the nearest end; the wall never
 * gets warmer than the gas. Missing: NaN temperature gives NaN; dosing unknown counts as full, the careful way round.
 * Source: 40 K at full dosing from memory; in proportion below is engineering judgement.
 */
export function sprayedWallTempC(gasTempC: number, dosingRatio: number): number {
  return gasTempC - sprayCoolingK * (dosingRatio >= 0 ? Math.min(1, dosingRatio) : dosingRatio < 0 ? 0 : 1);
}
