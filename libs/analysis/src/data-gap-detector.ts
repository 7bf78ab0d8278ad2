/** Data gaps: long stretches of an engine run that nothing was heard of. */

import type { Detector, DetectorEvent } from './detector.js';
import { inSeconds } from './figures.js';

/**
 * Reports gaps of at least `dataGapS` in which the engine ran on, or may have.
 *
 * A gap that is proven to be engine-off is no gap in the data, and neither is one that ends a run by inference.
 */
export const dataGapDetector: Detector<Record<string, never>> = {
  name: 'data-gap',
  initial: () => ({}),
  step: (config, state, block) => {
    const events: DetectorEvent[] = [];
    for (const gap of block.gaps) {
      const durationMs = gap.toMs - gap.fromMs;
      if (durationMs < config.thresholds.dataGapS * 1000) continue;
      events.push({
        kind: 'data-gap',
        startedMs: gap.fromMs,
        endedMs: gap.toMs,
        severity: 'notice',
        values: { durationS: inSeconds(durationMs) },
        evidence: { engineRan: gap.engineRan, reason: gap.reason },
      });
    }
    return { state, events };
  },
  current: () => null,
};
