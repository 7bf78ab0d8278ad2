/** One batch of a machine's analysis -> what it does to the machine's alerts. */

import type { Finding, MachineSummary } from '@warmbrick/analysis';
import type { Alert } from './alert.js';
import { episodeIdOf } from './alert.js';
import type { AlertingState } from './alerting-state.js';
import { figureOf } from './figures.js';
import { beginWork, endWork, type Folded, keep, tell, type Work } from './fold-work.js';
import type { MachineRules, RuleOn } from './machine-rules.js';
import { passTime } from './pass-time.js';
import { extendTrails, riseSignal } from './rise.js';
import type { FindingCondition } from './rule.js';
import { figureSignal, findingSignal, type Signal } from './signal.js';
import { relink, takeSignal, withdraw } from './take-signal.js';

/** What a batch of samples changed, as far as alerts are concerned. */
export interface AnalysedChange {
  readonly findings: readonly Finding[];
  readonly withdrawnFindingIds: readonly string[];
  /** null for a machine without samples. */
  readonly summary: MachineSummary | null;
  /** null when the batch went on where the last one ended. */
  readonly rewoundToMs: number | null;
}

export interface ChangeInput {
  readonly change: AnalysedChange;
  /** Wall clock at arrival. */
  readonly nowMs: number;
  /** Closed alerts that `recallOf` asked for. */
  readonly recalled: readonly Alert[];
}

/** Stored alerts that a change may concern beside the open ones. */
export interface Recall {
  readonly findingIds: readonly string[];
  readonly episodeIds: readonly string[];
}

/** Samples older than this at their arrival are a recording: such a machine is never silent. Source: engineering judgement. */
const watchedWithinMs = 86_400_000;

/**
 * What has to be recalled before a change is folded; empty for nearly every batch, since what goes on is open.
 */
export function recallOf(rules: MachineRules, state: AlertingState, change: AnalysedChange): Recall {
  const findingIds = new Set<string>();
  const episodeIds = new Set<string>();
  const isRewound = change.rewoundToMs !== null;
  const openIds = new Set(state.open.map(({ ruleId, findingId }) => `${ruleId} ${findingId}`));
  for (const finding of change.findings) {
    for (const rule of rules.byKind.get(finding.kind) ?? []) {
      if (openIds.has(`${rule.id} ${finding.id}`)) continue;
      if (!isRewound && !findingSignal(rule, finding, false).holds) continue;
      findingIds.add(finding.id);
      episodeIds.add(episodeIdOf(rules.place.machineId, rule.id, finding.startedMs));
    }
  }
  for (const id of change.withdrawnFindingIds) findingIds.add(id);
  return { findingIds: [...findingIds], episodeIds: [...episodeIds] };
}

/**
 * Folds a change.
 *
 * Laws: taking the state through JSON changes nothing; nothing passed in is changed; the state is bounded; the same again
 * after a crash gives the same alerts with the same ids and sequences. A change that concerns no alert gives the very
 * state that came in.
 */
export function foldChange(rules: MachineRules, state: AlertingState, input: ChangeInput): Folded {
  const { change, nowMs, recalled } = input;
  // What comes without samples is found by the clock or by people: service that fell due, work that was done.
  const atMs = change.summary?.observed.toMs ?? nowMs;
  const work = beginWork(rules, state, { nowMs, atMs, isRewound: change.rewoundToMs !== null });
  if (change.summary !== null) work.isWatched = nowMs - atMs <= watchedWithinMs;
  takeFindings(work, change, recalled);
  if (change.summary !== null) {
    judgeOngoing(work, change.findings);
    endSilence(work);
    takeFigures(work, change.summary);
  }
  // Without samples nothing more is known of the machine, whatever the clock says.
  passTime(work, { knownMs: change.summary === null ? Number.NEGATIVE_INFINITY : atMs });
  return endWork(work, state);
}

function takeFindings(work: Work, change: AnalysedChange, recalled: readonly Alert[]): void {
  const closed = new Map(recalled.filter(({ episodeId }) => !work.open.has(episodeId)).map((a) => [a.episodeId, a]));
  const known = () => [...work.open.values(), ...closed.values()];
  const taken = new Set<string>();
  if (change.withdrawnFindingIds.length > 0) {
    takeWithdrawals(work, change, { alerts: known(), taken });
  }
  for (const finding of change.findings) {
    for (const rule of work.rules.byKind.get(finding.kind) ?? []) {
      if (taken.has(`${rule.id} ${finding.id}`)) continue;
      takeFinding(work, { rule, finding }, known());
    }
  }
}

function takeFinding(
  work: Work,
  { rule, finding }: { rule: RuleOn<FindingCondition>; finding: Finding },
  known: readonly Alert[],
): void {
  const own = known.filter(({ ruleId }) => ruleId === rule.id);
  let alert = own.find(({ findingId }) => findingId === finding.id) ?? null;
  if (alert === null) {
    // A part of an alert that has gone on since, with another finding.
    const episodeId = episodeIdOf(work.rules.place.machineId, rule.id, finding.startedMs);
    if (own.some((other) => other.episodeId === episodeId)) return;
    alert = own.find((other) => isInRelease(other) && other.startedMs <= finding.startedMs) ?? null;
    if (alert !== null && !findingSignal(rule, finding, false).holds) return;
  }
  const isOpen = alert !== null && alert.condition !== 'clear';
  takeSignal(work, { rule, alert, signal: findingSignal(rule, finding, isOpen) });
}

/** In its off-delay, or in it when the data stopped: nobody saw whether it stayed over. */
function isInRelease({ condition, endedMs }: Alert): boolean {
  return condition === 'releasing' || (condition === 'unknown' && endedMs !== null);
}

interface Withdrawing {
  readonly alerts: readonly Alert[];
  /** Findings that have found their alert, as "rule finding". */
  readonly taken: Set<string>;
}

function takeWithdrawals(work: Work, change: AnalysedChange, { alerts, taken }: Withdrawing): void {
  const gone = new Set(change.withdrawnFindingIds);
  const linked = new Set(alerts.map(({ ruleId, findingId }) => `${ruleId} ${findingId}`));
  for (const alert of alerts) {
    if (alert.findingId === null || !gone.has(alert.findingId)) continue;
    const heir = heirOf(work, change.findings, { alert, linked, taken });
    if (heir === null) {
      withdraw(work, alert);
      continue;
    }
    taken.add(`${heir.rule.id} ${heir.signal.findingId}`);
    const moved = relink(work, alert, heir.signal);
    takeSignal(work, { rule: heir.rule, alert: moved, signal: heir.signal });
  }
}

/** The finding that a re-run has put in the place of a withdrawn one: of the same rule, overlapping, and nobody else's. */
function heirOf(
  work: Work,
  findings: readonly Finding[],
  { alert, linked, taken }: { alert: Alert; linked: ReadonlySet<string>; taken: ReadonlySet<string> },
): { rule: RuleOn<FindingCondition>; signal: Signal } | null {
  const untilMs = alert.endedMs ?? Number.POSITIVE_INFINITY;
  for (const finding of findings) {
    const key = `${alert.ruleId} ${finding.id}`;
    if (linked.has(key) || taken.has(key)) continue;
    const overlaps = finding.startedMs <= untilMs && (finding.endedMs ?? Number.POSITIVE_INFINITY) >= alert.startedMs;
    const rule = work.rules.byKind.get(finding.kind)?.find(({ id }) => id === alert.ruleId);
    if (!overlaps || rule === undefined) continue;
    const signal = findingSignal(rule, finding, true);
    if (signal.holds) return { rule, signal };
  }
  return null;
}

/** Wall clock between notes that the data of an alert still comes. As `renewMs` in take-signal.ts. */
const judgeMs = 60_000;

/** While samples come, a finding that nobody has ended goes on, whether or not it was told again. */
function judgeOngoing(work: Work, findings: readonly Finding[]): void {
  const told = new Set(findings.map(({ id }) => id));
  for (const alert of [...work.open.values()]) {
    if (alert.findingId === null || told.has(alert.findingId) || alert.condition === 'qualifying') continue;
    // Ended, and only waiting for somebody.
    if (alert.condition === 'active' && alert.endedMs !== null) continue;
    if (work.nowMs - alert.judgedMs < judgeMs) continue;
    if (alert.condition === 'unknown' && alert.endedMs !== null) {
      // It was over before the silence, and nobody saw whether it stayed so: the off-delay begins anew.
      keep(work, { ...alert, condition: 'releasing', pendingMs: work.atMs, judgedMs: work.nowMs });
    } else if (alert.condition === 'unknown') {
      tell(work, { step: 'known', from: alert, to: { condition: 'active', judgedMs: work.nowMs } });
    } else keep(work, { ...alert, judgedMs: work.nowMs });
  }
}

function endSilence(work: Work): void {
  for (const rule of work.rules.onSilence) {
    for (const alert of [...work.open.values()]) {
      if (alert.ruleId !== rule.id || work.atMs <= alert.startedMs) continue;
      tell(work, { step: 'closed', from: alert, to: { condition: 'clear', endedMs: work.atMs } });
    }
  }
}

function takeFigures(work: Work, summary: MachineSummary): void {
  for (const rule of work.rules.onFigures) {
    const value = figureOf(rule.when.figure)?.read(summary) ?? null;
    if (value === null) continue;
    const alert = openOf(work, rule.id);
    takeSignal(work, { rule, alert, signal: figureSignal(rule, value, { atMs: work.atMs, alert }) });
  }
  if (work.rules.onRises.length === 0) return;
  work.trails = extendTrails(work.trails, work.rules.onRises, { summary, atMs: work.atMs });
  for (const rule of work.rules.onRises) {
    const alert = openOf(work, rule.id);
    const signal = riseSignal(rule, work.trails, { summary, atMs: work.atMs, alert });
    if (signal !== null) takeSignal(work, { rule, alert, signal });
  }
}

function openOf(work: Work, ruleId: string): Alert | null {
  for (const alert of work.open.values()) if (alert.ruleId === ruleId) return alert;
  return null;
}
