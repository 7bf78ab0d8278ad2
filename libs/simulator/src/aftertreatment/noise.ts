/** Noise of sensors: evenly spread, with mean 0 and deviation 1. */

import type { Random } from '../random.js';

/** Half the width of an even spread with deviation 1. */
const halfWidth = Math.sqrt(3);

/** One draw; never beyond 1.73. Cheaper than a normal one, and there are many a second. */
export function noise(random: Random): number {
  return (2 * random.next() - 1) * halfWidth;
}
