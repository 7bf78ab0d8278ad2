/** Findings as marks on the time axis. */

import type { FindingDocument } from '@warmbrick/contracts';
import type { TimeRange } from './time-range.js';

export interface FindingMark {
  readonly finding: FindingDocument;
  /** Where it starts and how long it is, as shares of the range. */
  readonly startRatio: number;
  readonly lengthRatio: number;
  /** Lane it lies in, 0 is the top one; findings in one lane do not overlap. */
  readonly lane: number;
}

/** Lanes kept for findings that overlap; what does not fit shares the last one. */
const mostLanes = 3;
/** A mark is drawn at least this share of the width, so that a moment can be hit with a finger. */
const leastRatio = 0.012;

/**
 * Marks of the findings that touch a range, in order of time.
 *
 * Range: starts and ends are cut to the range. Units: `nowMs` ends what still goes on. Missing: engine runs get no mark.
 */
export function findingMarks(findings: readonly FindingDocument[], range: TimeRange, nowMs: number): FindingMark[] {
  const lengthMs = range.toMs - range.fromMs;
  const laneEnds: number[] = [];
  return findings
    .filter((finding) => finding.kind !== 'engine-run')
    .map((finding) => ({ finding, startMs: Date.parse(finding.startedAt), endMs: endOf(finding, nowMs) }))
    .filter((span) => span.endMs >= range.fromMs && span.startMs <= range.toMs)
    .sort((a, b) => a.startMs - b.startMs)
    .map(({ finding, startMs, endMs }) => {
      const startRatio = Math.min(1 - leastRatio, Math.max(0, (startMs - range.fromMs) / lengthMs));
      const endRatio = Math.min(1, (endMs - range.fromMs) / lengthMs);
      const lengthRatio = Math.max(leastRatio, endRatio - startRatio);
      const free = laneEnds.findIndex((end) => end <= startRatio);
      const lane = free === -1 ? Math.min(laneEnds.length, mostLanes - 1) : free;
      laneEnds[lane] = Math.max(laneEnds[lane] ?? 0, startRatio + lengthRatio);
      return { finding, startRatio, lengthRatio, lane };
    });
}

function endOf(finding: FindingDocument, nowMs: number): number {
  return finding.endedAt === null ? nowMs : Date.parse(finding.endedAt);
}
