/** Alerts as the page lays them out: by site and machine, what waits for somebody first. */

import type { AlertDocument, AlertMessage } from '@warmbrick/contracts';
import { severityRank } from '../format/finding-words.js';

/** How an alert stands towards people; each alert is in one of them. */
export const standings = ['waiting', 'seen', 'set-aside', 'over'] as const;
export type Standing = (typeof standings)[number];

/** Where an alert belongs: over; set aside (shelf, calendar, out of service, the past); seen by somebody; or waiting. */
export function standingOf(alert: AlertDocument): Standing {
  if (alert.condition === 'clear') return 'over';
  if (alert.shelvedUntil !== null || alert.suppression !== 'none' || alert.isPast) return 'set-aside';
  return alert.isAcknowledged ? 'seen' : 'waiting';
}

interface MachineAlerts {
  readonly machineId: string;
  readonly machineName: string;
  readonly alerts: readonly AlertDocument[];
}

export interface SiteAlerts {
  /** null: machines without a site. */
  readonly site: string | null;
  readonly timeZones: readonly string[];
  readonly machines: readonly MachineAlerts[];
  readonly count: number;
}

/** Groups alerts by site and machine. First the site, the machine and the alert that somebody has to look at first. */
export function groupAlerts(alerts: readonly AlertDocument[]): SiteAlerts[] {
  const ordered = [...alerts].sort(byUrgency);
  const sites = new Map<string | null, Map<string, AlertDocument[]>>();
  for (const alert of ordered) {
    const machines = sites.get(alert.group.site) ?? new Map<string, AlertDocument[]>();
    sites.set(alert.group.site, machines);
    machines.set(alert.machineId, [...(machines.get(alert.machineId) ?? []), alert]);
  }
  return [...sites].map(([site, machines]) => {
    const own = [...machines].map(([machineId, its]) => ({
      machineId,
      machineName: its[0]?.group.machineName ?? machineId,
      alerts: its,
    }));
    const all = own.flatMap((machine) => machine.alerts);
    return {
      site,
      timeZones: [...new Set(all.map(({ group }) => group.timeZone))],
      machines: own,
      count: all.length,
    };
  });
}

function byUrgency(a: AlertDocument, b: AlertDocument): number {
  const standing = standings.indexOf(standingOf(a)) - standings.indexOf(standingOf(b));
  if (standing !== 0) return standing;
  const severity = severityRank(b.severity) - severityRank(a.severity);
  return severity !== 0 ? severity : b.startedAt.localeCompare(a.startedAt);
}

/** How many alerts stand how. */
export function countStandings(alerts: readonly AlertDocument[]): Record<Standing, number> {
  const counts = { waiting: 0, seen: 0, 'set-aside': 0, over: 0 };
  for (const alert of alerts) counts[standingOf(alert)]++;
  return counts;
}

/** An alert as a message of the stream leaves it; what a message does not carry stays as it was. */
export function withMessage(before: AlertDocument | undefined, message: AlertMessage): AlertDocument {
  if (before !== undefined && before.sequence >= message.sequence) return before;
  const { step, actor, note, at } = message;
  const isShelved = message.shelvedUntil !== null;
  return {
    ...{ episodeId: message.episodeId, machineId: message.machineId, rule: message.rule },
    ...{ title: message.title, text: message.text, advice: message.advice, caution: message.caution },
    ...{ condition: message.to, severity: message.severity, group: message.group },
    ...{ startedAt: message.startedAt, endedAt: message.endedAt },
    learnedAt: before?.learnedAt ?? message.learnedAt,
    ...{ isPast: message.isPast, isWithdrawn: message.isWithdrawn, sequence: message.sequence },
    ...{ isAcknowledged: message.isAcknowledged, acknowledgedBy: message.acknowledgedBy },
    acknowledgedAt: message.isAcknowledged ? (before?.acknowledgedAt ?? message.learnedAt ?? at) : null,
    ...{ assignee: message.assignee, shelvedUntil: message.shelvedUntil },
    shelvedBy: isShelved ? (step === 'shelved' ? actor : (before?.shelvedBy ?? null)) : null,
    shelveReason: isShelved ? (step === 'shelved' ? note : (before?.shelveReason ?? null)) : null,
    suppression: message.suppression,
    suppressionReason: step === 'suppressed' ? note : (before?.suppressionReason ?? null),
    escalationLevel: message.escalationLevel,
    ...{ findingId: message.findingId, figures: message.figures, thresholdSet: message.thresholdSet },
  };
}
