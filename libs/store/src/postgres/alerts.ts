/** Alerts as people see them: lists, histories, and what is done to them. */

import {
  type Alert,
  type AlertEvent,
  type AlertingState,
  act,
  initialAlertingState,
  machineRules,
  type OperatorAction,
} from '@warmbrick/alerting';
import type { ActionOutcome, AlertPage } from '../alert-store.js';
import type { Page } from '../store.js';
import type { AlertDesk, DeskEntry } from './alert-desk.js';
import { readRuleBook } from './alert-rules.js';
import type { Database, Row, Session } from './database.js';
import { foldedOf } from './fold-alerts.js';
import { pageLimit, toPage } from './page.js';
import { decodeCursor } from './page-cursor.js';
import { writeAlerts } from './write-alerts.js';

const position = { started: 'number', id: 'string' } as const;
/** Steps of one alert that are shown. Source: engineering judgement; more than a flapping month. */
const mostSteps = 2000;

/** Alerts, those that began last first. */
export async function listAlerts(session: Session, page: AlertPage): Promise<Page<Alert>> {
  const limit = pageLimit(page.limit);
  const values: unknown[] = [limit + 1];
  const value = (it: unknown) => `$${values.push(it)}`;
  const conditions = ['true'];
  if (page.machineId !== undefined) conditions.push(`machine_id = ${value(page.machineId)}`);
  if (page.site !== undefined) conditions.push(`site = ${value(page.site)}`);
  if (page.fleets !== undefined) {
    const fleets = value(page.fleets);
    conditions.push(`machine_id IN (SELECT machine_id FROM machine WHERE fleet_id = ANY(${fleets}::text[]))`);
  }
  if (page.ruleIds !== undefined) conditions.push(`rule_id = ANY(${value(page.ruleIds)}::text[])`);
  if (page.severities !== undefined) conditions.push(`severity = ANY(${value(page.severities)}::text[])`);
  if (page.conditions !== undefined) {
    // Said twice, so that the index of what is open is used.
    if (!page.conditions.includes('clear')) conditions.push('is_open');
    conditions.push(`condition = ANY(${value(page.conditions)}::text[])`);
  }
  if (page.isAcknowledged !== undefined) conditions.push(`is_acknowledged = ${value(page.isAcknowledged)}`);
  if (page.fromMs !== undefined) conditions.push(`started >= ${value(Math.ceil(page.fromMs))}`);
  if (page.toMs !== undefined) conditions.push(`started < ${value(Math.ceil(page.toMs))}`);
  if (page.cursor !== undefined) {
    const { started, id } = decodeCursor<{ started: number; id: string }>(page.cursor, 'alerts', position);
    const at = value(started);
    conditions.push(`started <= ${at} AND (started < ${at} OR episode_id > ${value(id)})`);
  }
  const { rows } = await session.query({
    text: `SELECT episode_id, started, body FROM alert WHERE ${conditions.join(' AND ')}
      ORDER BY started DESC, episode_id LIMIT $1`,
    values,
  });
  const toPosition = (row: Row) => ({ started: row.started, id: row.episode_id });
  return toPage(rows, { list: 'alerts', limit, toItem: (row) => row.body as Alert, toPosition });
}

/** One alert with its steps. */
export async function getAlert(
  session: Session,
  episodeId: string,
): Promise<{ alert: Alert; events: AlertEvent[] } | null> {
  const text = 'SELECT body FROM alert WHERE episode_id = $1';
  const { rows } = await session.query({ name: 'get-alert', text, values: [episodeId] });
  if (rows[0] === undefined) return null;
  const events = await session.query({
    name: 'list-alert-events',
    text: `SELECT body FROM alert_event WHERE episode_id = $1 ORDER BY sequence LIMIT ${mostSteps}`,
    values: [episodeId],
  });
  return { alert: rows[0].body, events: events.rows.map(({ body }) => body as AlertEvent) };
}

interface Acting {
  readonly episodeId: string;
  readonly action: OperatorAction;
  readonly actor: string;
  readonly nowMs: number;
}

/** Does something to an alert. Without a desk (a process that folds nothing) it does so all the same. */
export async function actOnAlert(database: Database, desk: AlertDesk | null, acting: Acting): Promise<ActionOutcome> {
  const outcome = await database.inTransaction((session) => actWithin(session, desk, acting));
  if (outcome.outcome === 'done') desk?.settle([], outcome.events);
  return outcome;
}

async function actWithin(session: Session, desk: AlertDesk | null, acting: Acting): Promise<ActionOutcome> {
  const { episodeId, action, actor, nowMs } = acting;
  const entry = await lockMachine(session, episodeId, nowMs);
  if (entry === null) return { outcome: 'unknown-alert' };
  const text = 'SELECT body FROM alert WHERE episode_id = $1';
  const { rows } = await session.query({ name: 'get-alert', text, values: [episodeId] });
  const alert = rows[0]?.body as Alert;
  const { folded, refusal } = act(entry.rules, entry.state, { alert, action, actor, nowMs });
  if (folded === null) return { outcome: 'refused', reason: refusal };
  const machine = foldedOf(entry, folded, { nowMs, seenMs: entry.seenMs });
  await writeAlerts(session, [machine], desk?.config.outbox ?? false);
  return { outcome: 'done', alert: folded.alerts.at(-1) ?? alert, events: folded.events };
}

/** Locks the machine of an alert, and reads its state and rules anew; the caller may see only some fleets. */
async function lockMachine(
  session: Session,
  episodeId: string,
  nowMs: number,
): Promise<(DeskEntry & { seenMs: number | null }) | null> {
  const locked = await session.query({
    name: 'lock-machine-of-alert',
    text: `SELECT m.machine_id, m.fleet_id, m.profile, m.last_sample FROM alert a JOIN machine m USING (machine_id)
      WHERE a.episode_id = $1 FOR UPDATE OF m`,
    values: [episodeId],
  });
  const machine = locked.rows[0];
  if (machine === undefined) return null;
  const { machine_id: machineId, fleet_id: fleetId, profile, last_sample: seenMs } = machine;
  const text = 'SELECT version, body FROM alert_state WHERE machine_id = $1';
  const { rows } = await session.query({ name: 'get-alert-state', text, values: [machineId] });
  const book = await readRuleBook(session, nowMs);
  const state: AlertingState = rows[0]?.body ?? initialAlertingState(machineId);
  const rules = machineRules(book, { machineId, fleetId, profile });
  return { version: rows[0]?.version ?? 0, state, rules, placeReadMs: nowMs, seenMs };
}
