/** Which findings answer which truth. */

import type { FindingKind } from '@warmbrick/analysis';

export interface JudgingRule {
  /** Kind of the label. */
  readonly label: string;
  /** Kinds of finding that answer it. */
  readonly findings: readonly FindingKind[];
  /**
   * null: a finding has to touch the label in time. A number: it has to be known within so much machine time before the
   * label's start, as a warning is.
   */
  readonly foretellsMs: number | null;
}

/** Slack in time when a finding has to touch a label. Unit: ms. Source: engineering judgement, five minutes. */
export const usualWithinMs = 300_000;

/** A label's kind is answered by the finding of that kind. */
export function sameKindRule(kind: FindingKind): JudgingRule {
  return { label: kind, findings: [kind], foretellsMs: null };
}
