/** A trial: one machine's samples through several threshold sets at once, block by block. */

import { createAnalyzer, type ThresholdSet } from '@warmbrick/analysis';
import type { SampleBlock } from '@warmbrick/signals';
import { cutAtSteps } from './cut-blocks.js';
import { createFindingLog } from './finding-log.js';
import { type MachineTrial, type TrialMachine, trialSummary, usualStepMs } from './trial-types.js';

export interface Trial {
  readonly machineId: string;
  /** Takes samples in order of time. Their arrays may be reused afterwards. */
  push(block: SampleBlock): void;
  /** The result of each set, in the order of the sets. */
  results(): MachineTrial[];
}

/**
 * Creates the trial of one machine. It is the analysis that runs live, once for each set; the machine's own limits
 * (`profile.limits`) lie over every set, as they do live.
 *
 * Range: the same samples give the same results, however they are cut into blocks.
 * Errors: zod's, when a limit of the profile is not one; throws on samples that are not in order (a bug of the caller).
 */
export function createTrial(machine: TrialMachine, sets: readonly ThresholdSet[], stepMs = usualStepMs): Trial {
  const courses = sets.map((thresholds) => ({
    thresholds,
    analyzer: createAnalyzer({ ...machine, thresholds }),
    log: createFindingLog(),
  }));
  let samples = 0;
  return {
    machineId: machine.machineId,
    push(block) {
      samples += block.timeMs.length;
      cutAtSteps(block, stepMs, (piece) => {
        const lastMs = piece.timeMs[piece.timeMs.length - 1] as number;
        const stepEndMs = (Math.floor(lastMs / stepMs) + 1) * stepMs;
        for (const { analyzer, log } of courses) log.add(analyzer.push(piece).findings, stepEndMs);
      });
    },
    results: () =>
      courses.map(({ thresholds, analyzer, log }) => ({
        machineId: machine.machineId,
        machineClass: machine.profile.machineClass,
        profile: machine.profile,
        thresholdSet: thresholds.version,
        samples,
        summary: trialSummary(analyzer.summary()),
        findings: log.list(),
      })),
  };
}
