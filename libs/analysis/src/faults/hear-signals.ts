/** What all recorded signals have to say about a fault. */

import { defTestimony } from './def-testimony.js';
import { engineTestimony } from './engine-testimony.js';
import { sensorTestimony } from './sensor-testimony.js';
import type { Testimony, WitnessContext } from './testimony.js';
import type { Trouble } from './trouble.js';

/** All testimony on one trouble. Missing: no samples, no testimony. */
export function hearSignals(trouble: Trouble, context: WitnessContext): Testimony[] {
  return [
    ...defTestimony(trouble, context),
    ...engineTestimony(trouble, context),
    ...sensorTestimony(trouble, context),
  ];
}
