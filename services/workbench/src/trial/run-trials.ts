/** Runs the trials of all machines of a source. */

import type { ThresholdSet } from '@warmbrick/analysis';
import type { DamagedRecordingError } from '@warmbrick/recordings';
import { createTrial, type MachineTrial, type Trial } from '@warmbrick/tuning';
import type { TrialSource } from './trial-source.js';

export interface TrialsRun {
  /** By machine in order of name, each with the results in the order of the sets. */
  readonly results: readonly (readonly MachineTrial[])[];
  readonly samples: number;
  readonly damage: DamagedRecordingError | null;
}

/**
 * Reads the source once and analyses each sample once for each set.
 *
 * Errors: those of the source. Memory grows with machines and findings, not with samples.
 */
export async function runTrials(
  source: TrialSource,
  sets: readonly ThresholdSet[],
  onProgress?: (samples: number) => void,
): Promise<TrialsRun> {
  const trials = new Map<string, Trial>();
  let samples = 0;
  const damage = await source.feed({
    block(block, profile) {
      const { machineId } = block;
      let trial = trials.get(machineId);
      if (trial === undefined) {
        trial = createTrial({ machineId, profile }, sets);
        trials.set(machineId, trial);
      }
      trial.push(block);
      samples += block.timeMs.length;
      onProgress?.(samples);
    },
    restart() {
      trials.clear();
      samples = 0;
    },
  });
  const inOrder = [...trials].sort(([a], [b]) => (a < b ? -1 : 1));
  return { results: inOrder.map(([, trial]) => trial.results()), samples, damage };
}
