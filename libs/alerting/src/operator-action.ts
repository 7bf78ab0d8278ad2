/** What a person does to an alert. */

import type { Alert } from './alert.js';
import type { AlertingState } from './alerting-state.js';
import { beginWork, endWork, type Folded, isWaiting, tell, type Work } from './fold-work.js';
import type { MachineRules } from './machine-rules.js';

export type OperatorAction =
  | { readonly type: 'acknowledge'; readonly note?: string | null | undefined }
  | { readonly type: 'assign'; readonly to: string | null; readonly note?: string | null | undefined }
  | { readonly type: 'shelve'; readonly untilMs: number; readonly reason: string }
  | { readonly type: 'unshelve' }
  | { readonly type: 'comment'; readonly note: string };

export interface ActionInput {
  /** As stored. */
  readonly alert: Alert;
  readonly action: OperatorAction;
  readonly actor: string;
  /** Wall clock. */
  readonly nowMs: number;
}

export type Acted =
  | { readonly folded: Folded; readonly refusal: null }
  | { readonly folded: null; readonly refusal: string };

/** Longest time on the shelf. Source: engineering judgement: what lasts longer is a matter of the rule. */
export const longestShelfMs = 14 * 86_400_000;

/**
 * Does it. An action that finds its work done (acknowledged already, assigned to the same) changes nothing and tells nothing.
 *
 * Errors: `refusal` says in words why not: nothing to shelve, an end in the past, a comment without words.
 */
export function act(rules: MachineRules, state: AlertingState, input: ActionInput): Acted {
  const { nowMs } = input;
  const alert = state.open.find(({ episodeId }) => episodeId === input.alert.episodeId) ?? input.alert;
  const work = beginWork(rules, state, { nowMs, atMs: alert.lastAtMs, isRewound: false });
  const refusal = take(work, { ...input, alert });
  return refusal === null ? { folded: endWork(work, state), refusal } : { folded: null, refusal };
}

function take(work: Work, { alert, action, actor, nowMs }: ActionInput): string | null {
  switch (action.type) {
    case 'acknowledge':
      return acknowledge(work, { alert, actor, note: action.note ?? null });
    case 'assign':
      if (alert.operator.assignee === action.to) return null;
      tellOperator(work, { alert, actor, step: 'assigned', note: action.note ?? null }, { assignee: action.to });
      return null;
    case 'shelve':
      return shelve(work, { alert, actor, nowMs, action });
    case 'unshelve': {
      if (alert.operator.shelvedUntilMs === null) return null;
      const to = { operator: { ...alert.operator, shelvedUntilMs: null, shelvedBy: null, shelveReason: null } };
      tell(work, { step: 'unshelved', from: alert, to, actor, isLoud: isWaiting(alert) });
      return null;
    }
    case 'comment':
      if (action.note.trim() === '') return 'The comment has no words.';
      tell(work, { step: 'commented', from: alert, to: {}, actor, note: action.note });
      return null;
  }
}

function acknowledge(work: Work, { alert, actor, note }: { alert: Alert; actor: string; note: string | null }): null {
  if (alert.operator.isAcknowledged) return null;
  const done = { isAcknowledged: true, acknowledgedBy: actor, acknowledgedMs: work.nowMs };
  const next = tellOperator(work, { alert, actor, step: 'acknowledged', note }, done);
  // A latched alert whose condition has ended was only waiting for this.
  const isOver = next.condition === 'active' && next.endedMs !== null;
  if (isOver) tell(work, { step: 'closed', from: next, to: { condition: 'clear', pendingMs: null } });
  return null;
}

function shelve(
  work: Work,
  {
    alert,
    actor,
    nowMs,
    action,
  }: Omit<ActionInput, 'action'> & { action: Extract<OperatorAction, { type: 'shelve' }> },
): string | null {
  const { untilMs, reason } = action;
  if (alert.condition === 'clear') return 'The alert is over; there is nothing to shelve.';
  if (reason.trim() === '') return 'Say why it is shelved.';
  if (untilMs <= nowMs) return 'The end of the shelf lies in the past.';
  if (untilMs - nowMs > longestShelfMs) return 'At most 14 days; for longer, change or switch off the rule.';
  tellOperator(
    work,
    { alert, actor, step: 'shelved', note: reason },
    { shelvedUntilMs: untilMs, shelvedBy: actor, shelveReason: reason },
  );
  return null;
}

function tellOperator(
  work: Work,
  {
    alert,
    actor,
    step,
    note,
  }: { alert: Alert; actor: string; step: 'acknowledged' | 'assigned' | 'shelved'; note: string | null },
  to: Partial<Alert['operator']>,
): Alert {
  return tell(work, { step, from: alert, to: { operator: { ...alert.operator, ...to } }, actor, note });
}
