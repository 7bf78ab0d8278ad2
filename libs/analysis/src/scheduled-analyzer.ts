/** An analyzer whose threshold set changes with the machine's time. */

import { type SampleBlock, sliceBlock } from '@warmbrick/signals';
import { createAnalyzer } from './analyzer.js';
import type { Analyzer, AnalyzerOptions } from './analyzer-types.js';
import type { Finding } from './finding.js';
import type { ResidencyRow } from './residency-row.js';
import type { ThresholdSet } from './threshold-set.js';

/** A set and the machine time from which on it judges. */
export interface ScheduledSet {
  readonly fromMs: number;
  readonly thresholds: ThresholdSet;
}

export interface ScheduledAnalyzerOptions extends AnalyzerOptions {
  /** In order of time; before the first of them `thresholds` judges. Default: nothing but `thresholds`. */
  readonly schedule?: readonly ScheduledSet[];
}

/**
 * Creates an analyzer that judges each sample by the set in force at the sample's time.
 *
 * A set takes over what the one before it knew of the machine: an idle streak that goes on is judged by its whole length
 * against the new limit, and from then on named for the new set. See decision 3.
 * Shapes: which set judges hangs on the times of the samples alone, so no order of arrival changes it.
 */
export function createScheduledAnalyzer({ schedule = [], ...options }: ScheduledAnalyzerOptions): Analyzer {
  if (schedule.length === 0) return createAnalyzer(options);
  const first = options.snapshot?.thresholdSet;
  const named = schedule.find(({ thresholds }) => thresholds.version === first)?.thresholds;
  let current = named ?? options.thresholds;
  let analyzer = createAnalyzer({ ...options, thresholds: current });
  let hasSeen = options.snapshot !== undefined;
  const switchTo = (thresholds: ThresholdSet) => {
    if (thresholds === current) return;
    const { snapshot: _start, ...rest } = options;
    analyzer = createAnalyzer({ ...rest, thresholds, ...(hasSeen ? { snapshot: analyzer.snapshot() } : {}) });
    current = thresholds;
  };
  return {
    machineId: options.machineId,
    push(block) {
      const findings: Finding[] = [];
      const rows: ResidencyRow[] = [];
      for (let from = 0; from < block.timeMs.length; ) {
        const atMs = block.timeMs[from] as number;
        const to = firstFrom(block, nextChangeMs(schedule, atMs), from);
        switchTo(setAt(schedule, options.thresholds, atMs));
        const result = analyzer.push(from === 0 && to === block.timeMs.length ? block : sliceBlock(block, from, to));
        findings.push(...result.findings);
        rows.push(...result.rows);
        hasSeen = true;
        from = to;
      }
      return { findings, rows };
    },
    summary: () => analyzer.summary(),
    snapshot: () => analyzer.snapshot(),
  };
}

function setAt(schedule: readonly ScheduledSet[], before: ThresholdSet, atMs: number): ThresholdSet {
  return schedule.findLast(({ fromMs }) => fromMs <= atMs)?.thresholds ?? before;
}

function nextChangeMs(schedule: readonly ScheduledSet[], atMs: number): number {
  return schedule.find(({ fromMs }) => fromMs > atMs)?.fromMs ?? Number.POSITIVE_INFINITY;
}

function firstFrom({ timeMs }: SampleBlock, atMs: number, from: number): number {
  let to = from;
  while (to < timeMs.length && (timeMs[to] as number) < atMs) to++;
  return to;
}
