/** How an alert takes a signal of its rule: opens, goes on, worsens, begins to release, or is revised after its end. */

import type { Alert } from './alert.js';
import { forget, keep, newAlert, open, severityStep, tell, type Work } from './fold-work.js';
import type { Rule } from './rule.js';
import { rankOf, type Signal } from './signal.js';

/** Wall clock between renewals of the figures of an alert that goes on as before. Source: engineering judgement. */
const renewMs = 60_000;

export interface Taking {
  readonly rule: Rule;
  readonly signal: Signal;
  /** The alert it is about: open, or closed and recalled; null for none so far. */
  readonly alert: Alert | null;
}

/** Takes a signal. */
export function takeSignal(work: Work, taking: Taking): void {
  const { alert } = taking;
  if (alert === null) begin(work, taking);
  else if (alert.condition === 'clear') reviseClosed(work, taking, alert);
  else if (alert.condition === 'qualifying') qualify(work, taking, alert);
  else goOn(work, taking, alert);
}

function begin(work: Work, { rule, signal }: Taking): void {
  if (!signal.holds) return;
  const delayMs = rule.onDelayS * 1000;
  if (signal.endedMs !== null && signal.endedMs - signal.startedMs < delayMs) return;
  const alert = newAlert(work, rule, signal);
  if (alert === null) return;
  if (signal.endedMs !== null || delayMs === 0) open(work, rule, alert);
  else keep(work, { ...alert, condition: 'qualifying', pendingMs: work.atMs });
}

/** In its on-delay: nothing was told yet, so it may go as it came. */
function qualify(work: Work, { rule, signal }: Taking, alert: Alert): void {
  const sinceMs = alert.pendingMs as number;
  const untilMs = signal.endedMs ?? work.atMs;
  const isLongEnough = untilMs - sinceMs >= rule.onDelayS * 1000;
  const isOngoing = signal.holds && signal.endedMs === null;
  if (!isLongEnough && !isOngoing) return void forget(work, alert);
  if (!signal.holds && signal.endedMs === null) return void forget(work, alert);
  const next = { ...withFigures(work, alert, signal), severity: signal.severity, endedMs: signal.endedMs };
  if (isLongEnough) open(work, rule, next);
  else if (isRenewalDue(work, alert) || alert.severity !== signal.severity) keep(work, next);
}

function goOn(work: Work, taking: Taking, alert: Alert): void {
  const { rule, signal } = taking;
  if (signal.holds && signal.endedMs === null) return void holdOn(work, taking, alert);
  // After a time without data the off-delay begins anew: nobody saw whether it stayed over.
  const knownEndMs = alert.condition === 'unknown' ? null : alert.endedMs;
  const endedMs = signal.endedMs ?? knownEndMs ?? work.atMs;
  const isLatched = rule.isLatched && !alert.operator.isAcknowledged;
  if (isLatched) {
    const isSame = alert.endedMs === endedMs && isSameFigures(alert, signal) && alert.severity === signal.severity;
    if (!isSame) reviseLatched(work, alert, { signal, endedMs });
    return;
  }
  const isWaiting = alert.condition === 'releasing' && alert.endedMs === endedMs && isHeld(work, rule, endedMs);
  if (isWaiting && !isRenewalDue(work, alert) && !work.isRewound) return;
  release(work, { rule, alert: { ...withFigures(work, alert, signal), severity: signal.severity }, endedMs });
}

/** Ended, and waiting for somebody: new figures are a progress the first time, and a correction after that. */
function reviseLatched(work: Work, alert: Alert, to: { signal: Signal; endedMs: number }): void {
  const next = { ...withFigures(work, alert, to.signal), endedMs: to.endedMs, severity: to.signal.severity };
  if (alert.endedMs === null) return void keep(work, next);
  tell(work, { step: 'corrected', from: alert, to: next, corrects: alert.toldSequence, isMinor: isMinor(alert, next) });
}

function holdOn(work: Work, { rule, signal }: Taking, alert: Alert): void {
  let now = alert;
  if (now.condition === 'releasing') now = { ...now, condition: 'active', pendingMs: null, endedMs: null };
  const base = { figures: signal.figures, findingId: signal.findingId, judgedMs: work.nowMs, pendingMs: null };
  if (now.condition === 'unknown') {
    now = tell(work, { step: 'known', from: now, to: { ...base, condition: 'active', endedMs: null } });
  }
  const isNow = work.nowMs - work.atMs <= rule.latenessS * 1000;
  if (now.isPast && isNow)
    now = tell(work, { step: 'caught-up', from: now, to: { ...base, isPast: false }, isLoud: true });
  if (now.endedMs !== null) {
    now = tell(work, { step: 'corrected', from: now, to: { ...base, endedMs: null }, corrects: now.toldSequence });
  }
  if (signal.severity !== now.severity) now = changeSeverity(work, now, signal);
  const isDue = isRenewalDue(work, now) || work.isRewound;
  if (isDue && now.sequence === alert.sequence) now = withFigures(work, now, signal);
  if (now !== alert) keep(work, now);
}

/** Worse than what somebody has acknowledged: it has to be acknowledged anew. */
function changeSeverity(work: Work, alert: Alert, signal: Signal): Alert {
  const isMilder = rankOf(signal.severity) < rankOf(alert.severity);
  const isCorrection = work.isRewound && isMilder;
  const operator = isMilder
    ? alert.operator
    : { ...alert.operator, isAcknowledged: false, acknowledgedBy: null, acknowledgedMs: null, escalationLevel: 0 };
  return tell(work, {
    step: isCorrection ? 'corrected' : severityStep(alert.severity, signal.severity),
    from: alert,
    to: { ...withFigures(work, alert, signal), severity: signal.severity, operator },
    isLoud: !isMilder,
    corrects: isCorrection ? alert.toldSequence : null,
  });
}

function isHeld(work: Work, rule: Rule, endedMs: number): boolean {
  return work.atMs - endedMs < rule.offDelayS * 1000;
}

function isRenewalDue(work: Work, alert: Alert): boolean {
  return work.nowMs - alert.judgedMs >= renewMs;
}

/** Over: closes after the off-delay. */
function release(work: Work, of: { rule: Rule; alert: Alert; endedMs: number }): void {
  const { rule, alert, endedMs } = of;
  if (isHeld(work, rule, endedMs)) keep(work, { ...alert, condition: 'releasing', pendingMs: endedMs, endedMs });
  else tell(work, { step: 'closed', from: alert, to: { condition: 'clear', pendingMs: null, endedMs } });
}

/** A closed alert whose finding comes again: the same is nothing; anything else is told openly. */
function reviseClosed(work: Work, { rule, signal }: Taking, alert: Alert): void {
  const to = {
    startedMs: signal.startedMs,
    endedMs: signal.endedMs,
    severity: signal.severity,
    figures: signal.figures,
    findingId: signal.findingId,
    thresholdSet: signal.thresholdSet,
    judgedMs: work.nowMs,
    isWithdrawn: false,
  };
  if (!signal.holds) {
    // A finding that goes on and left its level is not undone by that; it was so.
    if (work.isRewound && signal.endedMs !== null && !alert.isWithdrawn) withdraw(work, alert);
    return;
  }
  const isCorrection = work.isRewound || alert.isWithdrawn;
  const corrects = isCorrection && alert.toldSequence >= 0 ? alert.toldSequence : null;
  if (signal.endedMs === null) {
    const isPast = work.nowMs - work.atMs > rule.latenessS * 1000;
    tell(work, { step: 'reopened', from: alert, to: { ...to, condition: 'active', isPast }, isLoud: true, corrects });
    return;
  }
  const isSame =
    !alert.isWithdrawn &&
    alert.startedMs === signal.startedMs &&
    alert.endedMs === signal.endedMs &&
    alert.severity === signal.severity &&
    isSameFigures(alert, signal);
  if (isSame) return;
  tell(work, { step: 'corrected', from: alert, to, corrects: alert.toldSequence, isMinor: isMinor(alert, to) });
}

/** What was told never was. */
export function withdraw(work: Work, alert: Alert): void {
  if (alert.condition === 'qualifying') return void forget(work, alert);
  if (alert.isWithdrawn) return;
  tell(work, {
    step: 'withdrawn',
    from: alert,
    to: { condition: 'clear', isWithdrawn: true, pendingMs: null, endedMs: alert.endedMs ?? work.atMs },
    corrects: alert.toldSequence,
  });
}

/** The alert of a finding that a re-run has replaced by another that overlaps it: one alert, with another start. */
export function relink(work: Work, alert: Alert, signal: Signal): Alert {
  if (alert.condition === 'qualifying') {
    const moved = { ...alert, startedMs: signal.startedMs, findingId: signal.findingId };
    keep(work, moved);
    return moved;
  }
  // A closed one is told of when it takes the signal.
  if (alert.condition === 'clear') return alert;
  const { startedMs, findingId, figures, thresholdSet, severity } = signal;
  return tell(work, {
    step: 'corrected',
    from: alert,
    to: { startedMs, findingId, figures, thresholdSet, severity, judgedMs: work.nowMs },
    corrects: alert.toldSequence,
  });
}

/** Whether only figures differ, and times by less than anybody would notice. */
function isMinor(from: Alert, to: Pick<Alert, 'startedMs' | 'endedMs' | 'severity' | 'isWithdrawn'>): boolean {
  const isNear = (a: number | null, b: number | null) =>
    a === b || (a !== null && b !== null && Math.abs(a - b) < renewMs);
  const isSameKind = from.severity === to.severity && from.isWithdrawn === to.isWithdrawn;
  return isSameKind && isNear(from.startedMs, to.startedMs) && isNear(from.endedMs, to.endedMs);
}

function withFigures(work: Work, alert: Alert, signal: Signal): Alert {
  const { figures, findingId, thresholdSet } = signal;
  return { ...alert, figures, findingId, thresholdSet, judgedMs: work.nowMs };
}

function isSameFigures(alert: Alert, signal: Signal): boolean {
  return JSON.stringify(alert.figures) === JSON.stringify(signal.figures);
}
