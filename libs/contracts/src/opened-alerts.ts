/** Alerts that a trial would have opened: the rules of alerting over the findings of a trial. */

import { builtInRules, type HistoryEntry, isOnFinding, type MachinePlace, tryRule } from '@warmbrick/alerting';
import type { TrialFinding } from '@warmbrick/tuning';

/** Alerts by the id of the rule that would have opened them. */
export type OpenedAlerts = Readonly<Record<string, number>>;

/**
 * Counts what the built-in rules over findings would have opened, nobody acknowledging anything; rules without any are left
 * out. Rules over figures, such as a high score, are not tried: a trial keeps findings, not the course of figures.
 *
 * Shapes: findings of one machine. A finding is heard of when the trial first knew of it, and again when it ended.
 */
export function openedAlerts(place: MachinePlace, findings: readonly TrialFinding[]): OpenedAlerts {
  const counts: Record<string, number> = {};
  for (const rule of builtInRules) {
    const { when } = rule;
    if (!isOnFinding(when)) continue;
    const own = findings.filter(({ finding }) => finding.kind === when.finding);
    if (own.length === 0) continue;
    const { openings, more } = tryRule(rule, [{ place, entries: entriesOf(own) }]);
    if (openings.length + more > 0) counts[rule.id] = openings.length + more;
  }
  return counts;
}

function entriesOf(findings: readonly TrialFinding[]): HistoryEntry[] {
  const entries = findings.flatMap(({ finding, raisedMs }): HistoryEntry[] => {
    const hasEnded = finding.endedMs !== null && finding.endedMs > raisedMs;
    const first = { atMs: raisedMs, findings: [hasEnded ? { ...finding, endedMs: null } : finding], summary: null };
    return hasEnded ? [first, { atMs: finding.endedMs as number, findings: [finding], summary: null }] : [first];
  });
  return entries.sort((a, b) => a.atMs - b.atMs);
}
