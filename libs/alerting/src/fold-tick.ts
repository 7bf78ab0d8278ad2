/** Passing time without samples -> what it does to a machine's alerts; and when to look again. */

import type { AlertingState } from './alerting-state.js';
import { beginWork, endWork, type Folded, isWaiting, newAlert, open, type Work } from './fold-work.js';
import type { MachineRules } from './machine-rules.js';
import { passTime } from './pass-time.js';
import { isOnSilence, type Rule } from './rule.js';
import { nextWindowChange } from './rule-book.js';
import { nextShiftChange } from './shift-calendar.js';

export interface TickInput {
  /** Wall clock. */
  readonly nowMs: number;
  /** Time of the machine's last sample; null for a machine without. */
  readonly seenMs: number | null;
}

/** While the last sample is younger than this, time passes for the machine between samples too. Source: engineering judgement. */
const betweenSamplesMs = 120_000;

/** Folds the passing of time. Laws as those of `foldChange`. */
export function foldTick(rules: MachineRules, state: AlertingState, { nowMs, seenMs }: TickInput): Folded {
  const isBetween = seenMs !== null && nowMs > seenMs && nowMs - seenMs <= betweenSamplesMs;
  const knownMs = isBetween ? nowMs : (seenMs ?? nowMs);
  const work = beginWork(rules, state, { nowMs, atMs: Math.max(knownMs, seenMs ?? 0), isRewound: false });
  beginSilence(work, { nowMs, seenMs });
  passTime(work, { knownMs });
  return endWork(work, state);
}

function beginSilence(work: Work, { nowMs, seenMs }: TickInput): void {
  if (!work.isWatched || seenMs === null) return;
  for (const rule of work.rules.onSilence) {
    const silentS = Math.floor((nowMs - seenMs) / 1000);
    if (silentS < rule.when.silentS || hasOpen(work, rule)) continue;
    const alert = newAlert(work, rule, {
      holds: true,
      startedMs: seenMs,
      endedMs: null,
      severity: rule.severity === 'as-found' ? 'warning' : rule.severity,
      figures: { limitS: rule.when.silentS },
      findingId: null,
      thresholdSet: null,
    });
    // Silence is about now, however old the last sample is.
    if (alert !== null) open({ ...work, atMs: nowMs }, rule, alert);
  }
}

function hasOpen(work: Work, rule: Rule): boolean {
  for (const { ruleId } of work.open.values()) if (ruleId === rule.id) return true;
  return false;
}

/**
 * The wall clock at which passing time may change something next; null when nothing waits for it. Early is harmless: a
 * look that finds nothing changes nothing.
 */
export function nextDueMs(rules: MachineRules, state: AlertingState, { nowMs, seenMs }: TickInput): number | null {
  const due: number[] = [];
  if (state.isWatched && seenMs !== null) {
    for (const rule of rules.onSilence) {
      const isOpen = state.open.some(({ ruleId }) => ruleId === rule.id);
      if (!isOpen) due.push(seenMs + rule.when.silentS * 1000);
    }
  }
  for (const alert of state.open) {
    const rule = rules.byId.get(alert.ruleId);
    if (rule === undefined) return nowMs;
    due.push(...dueOf(alert, rule, { nowMs, seenMs }));
    if (rule.during !== 'always' && !alert.isPast) {
      const change = nextShiftChange(rules.place.profile, nowMs);
      if (change !== null) due.push(change);
    }
  }
  const change = state.open.length === 0 ? null : nextWindowChange(rules.book, rules.place, nowMs);
  if (change !== null) due.push(change);
  return due.length === 0 ? null : Math.max(nowMs, Math.min(...due));
}

function dueOf(alert: AlertingState['open'][number], rule: Rule, { nowMs, seenMs }: TickInput): number[] {
  const { condition, pendingMs, operator, pagedMs, endedMs, learnedMs } = alert;
  const due: number[] = [];
  const add = (fromMs: number | null, afterS: number | undefined) => {
    if (fromMs !== null && afterS !== undefined) due.push(fromMs + afterS * 1000);
  };
  // A delay that has run out without samples goes on with the next sample.
  const isFresh = seenMs !== null && nowMs - seenMs <= betweenSamplesMs;
  const delayS = condition === 'qualifying' ? rule.onDelayS : condition === 'releasing' ? rule.offDelayS : undefined;
  if (pendingMs !== null && delayS !== undefined && (isFresh || pendingMs + delayS * 1000 > nowMs))
    add(pendingMs, delayS);
  const isLatchedEnd = condition === 'active' && endedMs !== null;
  if (isLatchedEnd) add(learnedMs, rule.releaseAfterS);
  const isJudged = condition === 'releasing' || (condition === 'active' && !isLatchedEnd);
  if (isJudged && !isOnSilence(rule.when)) add(alert.judgedMs, rule.unknownAfterS);
  if (operator.shelvedUntilMs !== null) due.push(operator.shelvedUntilMs);
  const isHushed = operator.shelvedUntilMs !== null || operator.suppression !== 'none';
  if (isWaiting(alert) && !isHushed) add(pagedMs, rule.escalation[operator.escalationLevel]?.afterS);
  return due;
}
