/** Detectors of the channels that only some machines send; each costs next to nothing where its channel is absent. */

import { airFilterDetector } from './air-filter-detector.js';
import { coldStartDetector } from './cold-start-detector.js';
import { coolantSensorDetector } from './coolant-sensor-detector.js';
import { defLedgerDetector } from './def-ledger-detector.js';
import { derateDetector } from './derate-detector.js';
import { noxConversionDetector } from './nox-conversion-detector.js';
import { regenerationDetector } from './regeneration-detector.js';
import { regenerationInhibitedDetector } from './regeneration-inhibited-detector.js';
import { sensorNeighboursDetector } from './sensor-neighbours-detector.js';
import { sensorSuspectDetector } from './sensor-suspect-detector.js';
import type { SensorDetector } from './suspicion.js';

/** Detectors of sensors that lie: asked first, since what they suspect is silent for all others. */
export const sensorDetectors = [
  sensorSuspectDetector,
  sensorNeighboursDetector,
  coolantSensorDetector,
] as readonly SensorDetector<unknown>[];

export const furtherDetectors = [
  regenerationDetector,
  regenerationInhibitedDetector,
  defLedgerDetector,
  noxConversionDetector,
  airFilterDetector,
  coldStartDetector,
  ...sensorDetectors,
  derateDetector,
] as const;
