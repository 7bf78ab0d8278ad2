/** States and steps of alerts in plain words. */

import type { AlertDocument, AlertMessage } from '@warmbrick/contracts';
import type { Standing } from './alert-groups.js';

const conditions: Readonly<Record<AlertDocument['condition'], string>> = {
  active: 'going on',
  releasing: 'about to end',
  unknown: 'not known: no data',
  clear: 'over',
  qualifying: 'about to begin',
};

/**
 * The condition: "going on". A latched one that has ended says that it waits; one about the past goes on only as far as was heard.
 */
export function conditionWords({ condition, endedAt, isWithdrawn, isPast }: AlertDocument): string {
  if (isWithdrawn) return 'withdrawn: it never was';
  if (condition === 'active' && endedAt !== null) return 'happened, kept until seen';
  if (condition === 'active' && isPast) return 'was going on when last heard of';
  return conditions[condition];
}

const severities: Readonly<Record<AlertDocument['severity'], string>> = {
  info: 'for the record',
  notice: 'notice',
  warning: 'warning',
  severe: 'severe',
};

export function severityWords(severity: AlertDocument['severity']): string {
  return severities[severity];
}

const standingNames: Readonly<Record<Standing, string>> = {
  waiting: 'waiting for somebody',
  seen: 'seen',
  'set-aside': 'set aside',
  over: 'over',
};

export function standingWords(standing: Standing): string {
  return standingNames[standing];
}

const steps: Readonly<Record<AlertMessage['step'], string>> = {
  opened: 'opened',
  worsened: 'got worse',
  eased: 'eased',
  unknown: 'data went missing',
  known: 'data came again, still going on',
  'caught-up': 'was late, and is still going on now',
  closed: 'closed',
  corrected: 'corrected by late data',
  withdrawn: 'withdrawn by late data',
  reopened: 'opened again',
  escalated: 'escalated',
  acknowledged: 'seen',
  assigned: 'assigned',
  shelved: 'put on the shelf',
  unshelved: 'taken off the shelf',
  commented: 'remark',
  suppressed: 'set aside',
  unsuppressed: 'no longer set aside',
};

/** One step of the history: "escalated to site lead". */
export function stepSentence({ step, assignee, escalateTo, corrects, severity }: AlertMessage): string {
  const words = steps[step] ?? step;
  if (step === 'escalated' && escalateTo !== null) return `${words} to ${escalateTo}`;
  if (step === 'assigned') return assignee === null ? 'assigned to nobody' : `${words} to ${assignee}`;
  if (step === 'opened' || step === 'worsened' || step === 'eased') return `${words}: ${severityWords(severity)}`;
  return corrects === null ? words : `${words} (step ${corrects + 1})`;
}

/** How loud a step was: "reached people at once". Empty for what is only for the record. */
export function noticeWords({ notice, quietBecause }: AlertMessage): string {
  if (notice === 'page') return 'told people at once';
  if (quietBecause === 'past') return 'told nobody: it was about the past';
  if (quietBecause === 'shelved') return 'told nobody: on the shelf';
  if (quietBecause === 'out-of-service') return 'told nobody: out of service';
  if (quietBecause === 'suppressed-by-design') return 'told nobody: outside its hours';
  return '';
}
