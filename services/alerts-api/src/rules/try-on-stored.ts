/** Tries a rule on what is stored: findings as they became, figures from the states that were kept. */

import { findingEntries, type HistoryEntry, isOnFinding, isOnSilence, type Rule, tryRule } from '@warmbrick/alerting';
import { builtInThresholds, createAnalyzer } from '@warmbrick/analysis';
import { type RuleTried, toInstant } from '@warmbrick/contracts';
import type { MachineHistory, Store } from '@warmbrick/store';

/** Machines that a rule over findings, or over figures, is tried on. Source: engineering judgement: an answer within seconds. */
const mostByFindings = 2000;
const mostByFigures = 50;
/** Openings shown. */
const mostShown = 200;
const dayMs = 86_400_000;

export interface Trying {
  readonly fleetId: string;
  readonly days: number;
  readonly nowMs: number;
}

/**
 * Tries the rule on the machines of a fleet that were heard of in the last days.
 *
 * Missing: figures are known as often as states were kept, every half hour of the last day and once a day before; the
 * answer says so. Errors: those of the store.
 */
export async function tryOnStored(store: Store, rule: Rule, { fleetId, days, nowMs }: Trying): Promise<RuleTried> {
  const fromMs = nowMs - days * dayMs;
  const isByFindings = isOnFinding(rule.when);
  const most = isByFindings ? mostByFindings : mostByFigures;
  const histories = await store.machineHistories({
    fleetIds: [fleetId],
    fromMs,
    toMs: nowMs,
    kinds: isOnFinding(rule.when) ? [rule.when.finding] : [],
    hasSnapshots: !isByFindings,
    limit: most,
  });
  const tried = tryRule(
    rule,
    histories.map((history) => ({
      place: { machineId: history.machineId, fleetId: history.fleetId, profile: history.profile },
      entries: isByFindings ? findingEntries(history.findings) : summaryEntries(history),
    })),
  );
  return {
    from: toInstant(fromMs),
    to: toInstant(nowMs),
    machines: histories.length,
    count: tried.openings.length + tried.more,
    pages: tried.openings.filter(({ pages }) => pages).length,
    openings: tried.openings.slice(0, mostShown).map(({ startedMs, endedMs, ...rest }) => ({
      ...rest,
      startedAt: toInstant(startedMs),
      endedAt: endedMs === null ? null : toInstant(endedMs),
    })),
    remarks: remarksOn(rule, histories.length >= most ? most : null),
  };
}

function remarksOn(rule: Rule, cutAt: number | null): string[] {
  const remarks: string[] = [];
  if (!isOnFinding(rule.when)) {
    remarks.push(
      'Figures are known every half hour of the last day and once a day before. For each sample, try the rule on recordings: warmbrick rules try.',
    );
  }
  if (isOnSilence(rule.when)) remarks.push('Silence is judged by the same kept states, so it is only rough.');
  if (cutAt !== null) remarks.push(`Only the first ${cutAt} machines were looked at.`);
  return remarks;
}

function summaryEntries({ machineId, profile, snapshots }: MachineHistory): HistoryEntry[] {
  return snapshots.flatMap(({ atMs, snapshot }) => {
    try {
      const analyzer = createAnalyzer({ machineId, profile, thresholds: builtInThresholds, snapshot });
      return [{ atMs, findings: [], summary: analyzer.summary() }];
    } catch {
      // A state that another version of the analysis kept says nothing to this one.
      return [];
    }
  });
}
