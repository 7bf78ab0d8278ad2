/** Ways of choosing which points to try next; each is asked for points and told what they cost. */

import type { RandomSource } from '../outcomes/random.js';
import type { Point } from './threshold-space.js';

export interface Seeker {
  /** The next points; empty when it has no more. */
  ask(): Point[];
  /** Costs of the points last asked, in their order; infinite for one that is not allowed. */
  tell(costs: readonly number[]): void;
}

/** Points handed out at a time where it does not matter. */
const batch = 16;

/** Every point of a grid with so many values an axis, the corners included. Range: at least two values. */
export function gridSeeker(axes: number, valuesPerAxis: number): Seeker {
  const total = valuesPerAxis ** axes;
  let next = 0;
  const pointAt = (index: number): Point =>
    Array.from(
      { length: axes },
      (_, k) => (Math.floor(index / valuesPerAxis ** k) % valuesPerAxis) / (valuesPerAxis - 1),
    );
  return {
    ask() {
      const points = Array.from({ length: Math.min(batch, total - next) }, (_, i) => pointAt(next + i));
      next += points.length;
      return points;
    },
    tell: () => {},
  };
}

/** Points drawn evenly from the cube, for ever. */
export function randomSeeker(axes: number, random: RandomSource): Seeker {
  return {
    ask: () => Array.from({ length: batch }, () => Array.from({ length: axes }, () => random.next())),
    tell: () => {},
  };
}
