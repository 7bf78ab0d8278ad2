/** From a step of an alert's life to the message of the alerts topic. */

import type { AlertEvent, AlertGroup } from '@warmbrick/alerting';
import { toInstant } from './to-document.js';
import type { AlertMessage } from './topics.js';

/** What alerts of one digest share: the site, or the machine where no site is known. */
export function alertGroupKey(machineId: string, group: AlertGroup): string {
  return group.site === null ? `machine/${machineId}` : `site/${group.site}`;
}

/** The message of one step; the same step is the same message, byte by byte. */
export function toAlertMessage(event: AlertEvent): AlertMessage {
  const { alert, words } = event;
  const { operator, group } = alert;
  const instant = (timeMs: number | null) => (timeMs === null ? null : toInstant(timeMs));
  const untilMs = alert.endedMs ?? event.atMs;
  return {
    machineId: event.machineId,
    episodeId: event.episodeId,
    sequence: event.sequence,
    step: event.step,
    notice: event.notice,
    quietBecause: event.quietBecause,
    rule: alert.ruleId,
    ...words,
    severity: alert.severity,
    from: event.from,
    to: event.to,
    group: { key: alertGroupKey(event.machineId, group), ...group },
    isAcknowledged: operator.isAcknowledged,
    acknowledgedBy: operator.acknowledgedBy,
    assignee: operator.assignee,
    shelvedUntil: instant(operator.shelvedUntilMs),
    suppression: operator.suppression,
    escalationLevel: operator.escalationLevel,
    escalateTo: event.escalateTo,
    startedAt: toInstant(alert.startedMs),
    endedAt: instant(alert.endedMs),
    at: toInstant(event.atMs),
    learnedAt: toInstant(event.learnedMs),
    durationS: Math.max(0, Math.round((untilMs - alert.startedMs) / 1000)),
    isPast: alert.isPast,
    isWithdrawn: alert.isWithdrawn,
    corrects: event.corrects,
    actor: event.actor,
    note: event.note,
    findingId: alert.findingId,
    figures: { ...alert.figures },
    thresholdSet: alert.thresholdSet,
    links: {
      alert: `/v1/alerts/${encodeURIComponent(event.episodeId)}`,
      page: `/alerts?alert=${encodeURIComponent(event.episodeId)}`,
      machine: `/machines/${encodeURIComponent(event.machineId)}`,
    },
  };
}
