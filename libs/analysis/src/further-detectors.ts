/** Detectors of the channels that only some machines send; each costs next to nothing where its channel is absent. */

import { defLedgerDetector } from './def-ledger-detector.js';
import { regenerationDetector } from './regeneration-detector.js';
import { regenerationInhibitedDetector } from './regeneration-inhibited-detector.js';

export const furtherDetectors = [defLedgerDetector, regenerationDetector, regenerationInhibitedDetector] as const;
