/** Detectors of the channels that only some machines send; each costs next to nothing where its channel is absent. */

import { regenerationDetector } from './regeneration-detector.js';
import { regenerationInhibitedDetector } from './regeneration-inhibited-detector.js';

export const furtherDetectors = [regenerationDetector, regenerationInhibitedDetector] as const;
