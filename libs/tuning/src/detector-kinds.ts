/** Which detectors have to run for some kinds of finding. */

import type { FindingKind } from '@warmbrick/analysis';

/** Detectors whose findings are of other kinds than their name, or of several. */
const kindsByDetector: Readonly<Record<string, readonly FindingKind[]>> = {
  'def-ledger': [
    'def-fill',
    'def-drop',
    'def-low',
    'def-empty-forecast',
    'def-consumption',
    'def-quality',
    'def-frost',
    'def-heater',
  ],
  'sensor-neighbours': ['sensor-suspect'],
};

/** Whether a detector may make findings of some kinds; null stands for all kinds. */
export function makesKinds(detectorName: string, kinds: ReadonlySet<FindingKind> | null): boolean {
  if (kinds === null) return true;
  const made = kindsByDetector[detectorName] ?? [detectorName as FindingKind];
  return made.some((kind) => kinds.has(kind));
}
