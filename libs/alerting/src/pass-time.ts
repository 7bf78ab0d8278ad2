/** What passing time does to open alerts: delays, latches, shelves, calendars, missing data, escalation. */

import type { Alert } from './alert.js';
import { forget, isWaiting, keep, open, tell, type Work } from './fold-work.js';
import { isOnSilence, type Rule } from './rule.js';
import { suppressionOf } from './suppression.js';

export interface Passing {
  /**
   * Machine time up to which something is known: that of the last sample, or a little more while samples are to be
   * expected. Delays of the condition run by it, so that silence never opens or clears anything.
   */
  readonly knownMs: number;
}

/** Lets time pass for every open alert. */
export function passTime(work: Work, passing: Passing): void {
  for (const alert of [...work.open.values()]) {
    const rule = work.rules.byId.get(alert.ruleId);
    if (rule === undefined) {
      dropRuleless(work, alert);
      continue;
    }
    let now: Alert | null = alert;
    for (const pass of [passSuppression, passShelf, passDelays, passSilence, passEscalation]) {
      if (now !== null && now.condition !== 'clear') now = pass(work, rule, { alert: now, passing });
    }
  }
}

interface Standing {
  readonly alert: Alert;
  readonly passing: Passing;
}

function dropRuleless(work: Work, alert: Alert): void {
  if (alert.condition === 'qualifying') return void forget(work, alert);
  const endedMs = alert.endedMs ?? work.atMs;
  const note = 'the rule was removed, switched off, or no longer applies to the machine';
  tell(work, { step: 'closed', from: alert, to: { condition: 'clear', pendingMs: null, endedMs }, note });
}

function passSuppression(work: Work, rule: Rule, { alert }: Standing): Alert {
  if (alert.condition === 'qualifying') return alert;
  const suppressed = suppressionOf(work.rules, rule, alert.isPast ? work.atMs : work.nowMs);
  const { operator } = alert;
  if (suppressed.suppression === operator.suppression) return alert;
  const to = { operator: { ...operator, ...suppressed } };
  if (suppressed.suppression !== 'none') {
    return tell(work, { step: 'suppressed', from: alert, to, note: suppressed.suppressionReason });
  }
  // Whoever was paged before the suppression knows of it.
  const isLoud = isWaiting(alert) && alert.pagedMs === null;
  return tell(work, { step: 'unsuppressed', from: alert, to, isLoud });
}

function passShelf(work: Work, _rule: Rule, { alert }: Standing): Alert {
  const { operator } = alert;
  if (operator.shelvedUntilMs === null || work.nowMs < operator.shelvedUntilMs) return alert;
  const to = { operator: { ...operator, shelvedUntilMs: null, shelvedBy: null, shelveReason: null } };
  return tell(work, { step: 'unshelved', from: alert, to, isLoud: isWaiting(alert), note: 'the time is over' });
}

function passDelays(work: Work, rule: Rule, { alert, passing }: Standing): Alert | null {
  const { condition, pendingMs, endedMs } = alert;
  if (condition === 'qualifying' && pendingMs !== null) {
    return passing.knownMs - pendingMs >= rule.onDelayS * 1000 ? open(work, rule, alert) : alert;
  }
  if (condition === 'releasing' && pendingMs !== null) {
    if (passing.knownMs - pendingMs < rule.offDelayS * 1000) return alert;
    const to = { condition: 'clear', pendingMs: null, endedMs: endedMs ?? pendingMs } as const;
    return tell(work, { step: 'closed', from: alert, to });
  }
  const isLatchOver =
    rule.isLatched && endedMs !== null && work.nowMs - (alert.learnedMs ?? work.nowMs) >= rule.releaseAfterS * 1000;
  if (!isLatchOver) return alert;
  const note = 'released after the time that the rule sets; nobody acknowledged it';
  return tell(work, { step: 'closed', from: alert, to: { condition: 'clear', pendingMs: null }, note });
}

/** Data that is missing neither opens nor clears; it makes the condition unknown. */
function passSilence(work: Work, rule: Rule, { alert }: Standing): Alert {
  const isJudged = alert.condition === 'active' || alert.condition === 'releasing';
  // What has ended and waits for somebody, and silence itself, do not hang on further data.
  if (!isJudged || isOnSilence(rule.when) || (alert.condition === 'active' && alert.endedMs !== null)) return alert;
  if (work.nowMs - alert.judgedMs < rule.unknownAfterS * 1000) return alert;
  return tell(work, { step: 'unknown', from: alert, to: { condition: 'unknown', pendingMs: null } });
}

function passEscalation(work: Work, rule: Rule, { alert }: Standing): Alert {
  let now = alert;
  for (;;) {
    const { operator, pagedMs } = now;
    const next = rule.escalation[operator.escalationLevel];
    const isHushed = operator.shelvedUntilMs !== null || operator.suppression !== 'none';
    if (next === undefined || pagedMs === null || isHushed || !isWaiting(now)) return now;
    if (work.nowMs - pagedMs < next.afterS * 1000) return now;
    const escalated = tell(work, {
      step: 'escalated',
      from: now,
      to: { operator: { ...operator, escalationLevel: operator.escalationLevel + 1 } },
      isLoud: true,
      escalateTo: next.to,
    });
    // All steps count from the first page.
    now = { ...escalated, pagedMs };
    keep(work, now);
  }
}
