/** Compares the alerts of a run with those of an undisturbed fold over the same findings. */

import {
  type Alert,
  type AlertEvent,
  builtInBook,
  foldChange,
  initialAlertingState,
  machineRules,
} from '@warmbrick/alerting';
import type { Finding } from '@warmbrick/analysis';
import { defaultProfile } from '@warmbrick/signals';
import { runSql } from '../store/postgres.js';

export interface AlertVerdict {
  /** Alerts that are missing, or end up saying something else than they should; and steps that nobody will be told of. */
  readonly lost: number;
  /** Alerts that came twice, steps that are missing or doubled, and steps told twice. */
  readonly repeated: number;
  readonly alerts: number;
  readonly differences: readonly string[];
}

/**
 * Judges by the rules without delays: what comes of a delay depends on when samples arrive. What was withdrawn openly
 * counts as not being there.
 */
export async function judgeAlerts(
  databaseUrl: string,
  wanted: ReadonlyMap<string, readonly Finding[]>,
): Promise<AlertVerdict> {
  const rows = await runSql(databaseUrl, 'SELECT body FROM alert');
  const events = (await runSql(databaseUrl, 'SELECT body FROM alert_event')).map(({ body }) => body as AlertEvent);
  const told = await runSql(
    databaseUrl,
    `SELECT subject_id AS episode, revision FROM outbox WHERE topic = 'aftertreatment.alerts.v1'`,
  );
  const expected = [...wanted].flatMap(([machineId, findings]) => expectedAlerts(machineId, findings));
  const found = rows.map(({ body }) => body as Alert).filter((alert) => isJudged(alert) && !alert.isWithdrawn);
  const [wantedNames, foundNames] = [expected.map(nameOf), found.map(nameOf)];
  const missing = wantedNames.filter((name) => !foundNames.includes(name));
  const surplus = foundNames.filter((name) => !wantedNames.includes(name));
  const names = new Set(told.map(({ episode, revision }) => `${episode}.${revision}`));
  const untold = events.filter(({ episodeId, sequence }) => !names.has(`${episodeId}.${sequence}`)).length;
  return {
    lost: missing.length + surplus.length + untold,
    repeated: foundNames.length - new Set(foundNames).size + gaps(events) + told.length - names.size,
    alerts: found.length,
    differences: [...missing.map((name) => `missing alert ${name}`), ...surplus.map((name) => `wrong alert ${name}`)],
  };
}

const delayed = new Map<string, boolean>();

function isJudged({ ruleId, findingId }: Alert): boolean {
  if (delayed.size === 0)
    for (const rule of rulesOf('any').byId.values()) delayed.set(rule.id, rule.onDelayS + rule.offDelayS > 0);
  return findingId !== null && delayed.get(ruleId) === false;
}

function rulesOf(machineId: string) {
  return machineRules(builtInBook, { machineId, fleetId: 'main', profile: defaultProfile });
}

function expectedAlerts(machineId: string, findings: readonly Finding[]): Alert[] {
  const change = { findings, withdrawnFindingIds: [], summary: null, rewoundToMs: null };
  const nowMs = Math.max(0, ...findings.map(({ startedMs, endedMs }) => endedMs ?? startedMs));
  const { alerts } = foldChange(rulesOf(machineId), initialAlertingState(machineId), { change, nowMs, recalled: [] });
  return alerts.filter(isJudged);
}

function nameOf({ ruleId, machineId, startedMs, endedMs, severity }: Alert): string {
  return `${machineId} ${ruleId} ${startedMs} ${endedMs} ${severity}`;
}

/** Episodes whose steps are not numbered from 0 without a gap, each once. */
function gaps(events: readonly AlertEvent[]): number {
  const byEpisode = new Map<string, number[]>();
  for (const { episodeId, sequence } of events)
    byEpisode.set(episodeId, [...(byEpisode.get(episodeId) ?? []), sequence]);
  let wrong = 0;
  for (const sequences of byEpisode.values()) {
    const ordered = sequences.sort((a, b) => a - b);
    if (ordered.some((sequence, n) => sequence !== n)) wrong++;
  }
  return wrong;
}
