/** The trial of one machine before the reader: the same comparison as `warmbrick compare`, of samples held ready. */

import type { ThresholdSet } from '@warmbrick/analysis';
import { type ComparisonDocument, toComparisonDocument } from '@warmbrick/contracts';
import type { SampleBlock } from '@warmbrick/signals';
import { compareTrials, createBench, type MachineTrial, summaryThresholds, type TrialMachine } from '@warmbrick/tuning';

export interface BenchDesk {
  readonly samples: number;
  /** Findings compared at once. `isWhole` is false when residency and score still have to be computed by `finish`. */
  compare(
    before: ThresholdSet,
    after: ThresholdSet,
  ): { readonly document: ComparisonDocument; readonly isWhole: boolean; readonly ran: readonly string[] };
  /** The comparison with everything in it. */
  finish(before: ThresholdSet, after: ThresholdSet): ComparisonDocument;
}

/** Lays samples of one machine on the desk. Shapes: blocks in order of time; leave their arrays alone. */
export function createBenchDesk(machine: TrialMachine, blocks: readonly SampleBlock[]): BenchDesk {
  const bench = createBench(machine, blocks);
  let known: { readonly set: ThresholdSet; readonly trial: MachineTrial } | null = null;
  const trialBefore = (set: ThresholdSet): MachineTrial => {
    if (known === null || !isSame(known.set, set)) known = { set, trial: bench.trial(set) };
    return known.trial;
  };
  return {
    samples: bench.samples,
    compare(before, after) {
      const first = trialBefore(before);
      const { findings, ran } = bench.findings(after);
      const isWhole = summaryThresholds.every((name) => before.values[name] === after.values[name]);
      const trial = { ...first, thresholdSet: after.version, findings };
      return { document: toComparisonDocument({ before, after }, [compareTrials(first, trial)]), isWhole, ran };
    },
    finish: (before, after) =>
      toComparisonDocument({ before, after }, [compareTrials(trialBefore(before), bench.trial(after))]),
  };
}

function isSame(a: ThresholdSet, b: ThresholdSet): boolean {
  return a.version === b.version && JSON.stringify(a.values) === JSON.stringify(b.values);
}
