/** What was not taken: all counted, the first few kept. */

import { type RejectReason, type TelemetryReject, telemetryLimits } from '@warmbrick/contracts';
import type { RejectReason as RecordingRejectReason } from '@warmbrick/recordings';

/** Closed list of reasons. Codes are never reused. */
export type IntakeRejectReason =
  | RejectReason
  | RecordingRejectReason
  /** The machine of the message is not the one of its topic. */
  | 'machine-mismatch'
  /** The pipeline does not take it, for a reason that trying again does not mend. */
  | 'refused'
  /** A fault code of a standard feed that names no SPN and FMI. */
  | 'unknown-fault-code'
  /** A machine of a standard feed that has no usable name. */
  | 'unnamed-machine'
  /** A figure of a standard feed in a unit that is not known. */
  | 'unknown-unit';

export interface IntakeReject extends TelemetryReject {
  readonly reason: IntakeRejectReason;
}

export interface RejectList {
  add(reject: IntakeReject, count?: number): void;
  total(): number;
  /** Counts of all, also of those not listed. */
  byReason(): ReadonlyMap<IntakeRejectReason, number>;
  listed(): readonly IntakeReject[];
}

/** Longest detail kept. Source: engineering judgement. */
const detailLength = 200;

/** Makes an empty list that keeps the first `most` rejects and counts all. */
export function createRejectList(most: number = telemetryLimits.rejectsListed): RejectList {
  const listed: IntakeReject[] = [];
  const counts = new Map<IntakeRejectReason, number>();
  let total = 0;
  return {
    add(reject, count = 1) {
      total += count;
      counts.set(reject.reason, (counts.get(reject.reason) ?? 0) + count);
      if (listed.length < most) listed.push({ ...reject, detail: reject.detail.slice(0, detailLength) });
    },
    total: () => total,
    byReason: () => counts,
    listed: () => listed,
  };
}
