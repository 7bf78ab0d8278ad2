/** The last word on each finding of a trial, and when it was first said. */

import type { Finding } from '@warmbrick/analysis';
import type { TrialFinding } from './trial-types.js';

export interface FindingLog {
  /** Takes findings that became known at the end of a step. */
  add(findings: readonly Finding[], stepEndMs: number): void;
  /** In order of start, then kind. */
  list(): TrialFinding[];
}

/** Creates an empty log. A finding said again replaces what was said before; the moment of the first saying stays. */
export function createFindingLog(): FindingLog {
  const byId = new Map<string, TrialFinding>();
  return {
    add(findings, stepEndMs) {
      for (const finding of findings) {
        const raisedMs = byId.get(finding.id)?.raisedMs ?? Math.max(finding.startedMs, stepEndMs);
        byId.set(finding.id, { finding, raisedMs });
      }
    },
    list: () => inOrder([...byId.values()]),
  };
}

/** Sorts by start, then kind: the order of every list of a trial. */
export function inOrder(findings: readonly TrialFinding[]): TrialFinding[] {
  return [...findings].sort(
    ({ finding: a }, { finding: b }) => a.startedMs - b.startedMs || (a.kind < b.kind ? -1 : a.kind > b.kind ? 1 : 0),
  );
}
