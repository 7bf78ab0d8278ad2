/** Trying a rule on what happened: how often would it have opened? */

import type { Finding, MachineSummary, Severity } from '@warmbrick/analysis';
import type { Alert } from './alert.js';
import { initialAlertingState } from './alerting-state.js';
import { builtInRules } from './built-in-rules.js';
import { foldChange, recallOf } from './fold-change.js';
import { foldTick } from './fold-tick.js';
import type { Folded } from './fold-work.js';
import { type MachineRules, machineRules } from './machine-rules.js';
import type { Rule } from './rule.js';
import type { MachinePlace } from './rule-book.js';

/** What the analysis said at one time. */
export interface HistoryEntry {
  readonly atMs: number;
  readonly findings: readonly Finding[];
  /** null where only findings are known. */
  readonly summary: MachineSummary | null;
}

export interface MachineHistoryToTry {
  readonly place: MachinePlace;
  /** In order of time. */
  readonly entries: readonly HistoryEntry[];
}

/** One alert that would have been. */
interface TriedOpening {
  readonly machineId: string;
  readonly startedMs: number;
  readonly endedMs: number | null;
  readonly severity: Severity;
  /** Whether it would have reached somebody at once. */
  readonly pages: boolean;
  readonly text: string;
}

export interface TriedRule {
  readonly openings: readonly TriedOpening[];
  /** Openings beyond those that are listed. */
  readonly more: number;
}

/** Openings listed at most. Source: engineering judgement. */
const mostOpenings = 1000;
/** Longest time without a look at what passing time does. */
const tickEveryMs = 600_000;
/** Looks between two entries at most; silence of years is not looked at minute by minute. */
const mostTicks = 1000;

/**
 * Plays a history as if it had come live, with this rule and no other, nobody acknowledging anything.
 *
 * Missing: a rule that is switched off is tried all the same.
 */
export function tryRule(rule: Rule, histories: readonly MachineHistoryToTry[]): TriedRule {
  const openings: TriedOpening[] = [];
  let more = 0;
  for (const { place, entries } of histories) {
    const rules = onlyRule(rule, place);
    const tried = play(rules, entries);
    for (const alert of tried) {
      if (openings.length < mostOpenings) openings.push(openingOf(alert));
      else more++;
    }
  }
  openings.sort((a, b) => a.startedMs - b.startedMs || (a.machineId < b.machineId ? -1 : 1));
  return { openings, more };
}

/** Stored findings as entries: each is heard of when it begins, as it became, and when it ends. */
export function findingEntries(findings: readonly Finding[]): HistoryEntry[] {
  const entries = findings.flatMap((finding) => {
    const isMoment = finding.endedMs === null || finding.endedMs <= finding.startedMs;
    const begins = {
      atMs: finding.startedMs,
      findings: [isMoment ? finding : { ...finding, endedMs: null }],
      summary: null,
    };
    return isMoment ? [begins] : [begins, { atMs: finding.endedMs as number, findings: [finding], summary: null }];
  });
  return entries.sort((a, b) => a.atMs - b.atMs);
}

function onlyRule(rule: Rule, place: MachinePlace): MachineRules {
  const { fleetId } = place;
  const off = builtInRules.filter(({ id }) => id !== rule.id).map((one) => ({ ...one, isEnabled: false }));
  const ownRules = [{ ...rule, isEnabled: true }, ...off].map((one) => ({ fleetId, rule: one }));
  return machineRules({ ownRules, windows: [] }, place);
}

function play(rules: MachineRules, entries: readonly HistoryEntry[]): Alert[] {
  let state = initialAlertingState(rules.place.machineId);
  const alerts = new Map<string, Alert>();
  const take = (folded: Folded) => {
    state = folded.state;
    for (const alert of folded.alerts) alerts.set(alert.episodeId, alert);
  };
  let lastMs: number | null = null;
  let seenMs: number | null = null;
  for (const { atMs, findings, summary } of entries) {
    if (lastMs !== null) {
      const everyMs = Math.max(tickEveryMs, (atMs - lastMs) / mostTicks);
      for (let nowMs = lastMs + everyMs; nowMs < atMs; nowMs += everyMs) {
        // Where only findings are known, samples may have come all the time.
        take(foldTick(rules, state, { nowMs, seenMs: summary === null ? nowMs : seenMs }));
      }
    }
    const change = { findings, withdrawnFindingIds: [], summary, rewoundToMs: null };
    const { episodeIds } = recallOf(rules, state, change);
    const recalled = episodeIds.flatMap((id) => alerts.get(id) ?? []);
    take(foldChange(rules, state, { change, nowMs: atMs, recalled }));
    lastMs = atMs;
    if (summary !== null) seenMs = summary.observed.toMs;
  }
  return [...alerts.values()];
}

function openingOf(alert: Alert): TriedOpening {
  const { machineId, startedMs, endedMs, severity, pagedMs, words } = alert;
  return { machineId, startedMs, endedMs, severity, pages: pagedMs !== null, text: words.text };
}
