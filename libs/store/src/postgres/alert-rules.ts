/** Rules that people set, and maintenance windows. */

import { type MaintenanceWindow, maintenanceWindowSchema, type RuleBook, readRule } from '@warmbrick/alerting';
import type { RuleChange, StoredRule } from '../alert-store.js';
import type { Database, Row, Session } from './database.js';

/** Windows and rules read at most. Source: engineering judgement. */
const mostRead = 20_000;

/** Everything in force, for all fleets that the session sees. A stored rule that this version cannot read is left out. */
export async function readRuleBook(session: Session, nowMs: number): Promise<RuleBook> {
  const rules = await listRules(session, 'all');
  const windows = await listMaintenanceWindows(session, nowMs);
  return { ownRules: rules.map(({ fleetId, rule }) => ({ fleetId, rule })), windows };
}

/** Rules of fleets, in order of fleet and id. */
export async function listRules(session: Session, fleetIds: readonly string[] | 'all'): Promise<StoredRule[]> {
  const { rows } = await session.query({
    name: 'list-rules',
    text: `SELECT fleet_id, rule_id, revision, changed, changed_by, body FROM alert_rule
      WHERE $1::text[] IS NULL OR fleet_id = ANY($1::text[]) ORDER BY fleet_id, rule_id LIMIT ${mostRead}`,
    values: [fleetIds === 'all' ? null : fleetIds],
  });
  return rows.flatMap(toRule);
}

function toRule(row: Row): StoredRule[] {
  const { rule } = readRule(row.body);
  if (rule === null) return [];
  return [{ fleetId: row.fleet_id, rule, revision: row.revision, changedMs: row.changed, changedBy: row.changed_by }];
}

/** Writes a rule; its revision rises. */
export async function putRule(database: Database, change: RuleChange, dueMs: number): Promise<StoredRule | null> {
  const { fleetId, rule, by, nowMs, basedOn = null } = change;
  return database.inTransaction(async (session) => {
    if (basedOn !== null && basedOn > 0) {
      const standing = await session.query({
        name: 'hold-rule',
        text: 'SELECT 1 FROM alert_rule WHERE fleet_id = $1 AND rule_id = $2 AND revision = $3 FOR UPDATE',
        values: [fleetId, rule.id, basedOn],
      });
      if (standing.rowCount === 0) return null;
    }
    const { rows } = await session.query({
      name: 'put-rule',
      text: `INSERT INTO alert_rule (fleet_id, rule_id, revision, changed, changed_by, body) VALUES ($1, $2, 1, $3, $4, $5)
        ON CONFLICT (fleet_id, rule_id) DO UPDATE SET revision = alert_rule.revision + 1, changed = excluded.changed,
          changed_by = excluded.changed_by, body = excluded.body
          WHERE $6::integer IS NULL OR alert_rule.revision = $6
        RETURNING revision`,
      values: [fleetId, rule.id, nowMs, by, JSON.stringify(rule), basedOn],
    });
    if (rows.length === 0) return null;
    await lookAgain(session, fleetId, dueMs);
    return { fleetId, rule, revision: rows[0]?.revision, changedMs: nowMs, changedBy: by };
  });
}

/** Takes a rule away. */
export async function deleteRule(
  database: Database,
  { fleetId, ruleId }: { fleetId: string; ruleId: string },
  dueMs: number,
): Promise<boolean> {
  return database.inTransaction(async (session) => {
    const text = 'DELETE FROM alert_rule WHERE fleet_id = $1 AND rule_id = $2';
    const { rowCount } = await session.query({ name: 'delete-rule', text, values: [fleetId, ruleId] });
    if (rowCount > 0) await lookAgain(session, fleetId, dueMs);
    return rowCount > 0;
  });
}

/** Windows that end after a time, by their start. */
export async function listMaintenanceWindows(session: Session, endAfterMs: number): Promise<MaintenanceWindow[]> {
  const { rows } = await session.query({
    name: 'list-windows',
    text: `SELECT body FROM maintenance_window WHERE ended IS NULL OR ended > $1 ORDER BY started, id LIMIT ${mostRead}`,
    values: [Math.floor(endAfterMs)],
  });
  return rows.flatMap((row) => {
    const parsed = maintenanceWindowSchema.safeParse(row.body);
    return parsed.success ? [parsed.data] : [];
  });
}

/** Adds a window; false when its id is taken. */
export async function addMaintenanceWindow(
  database: Database,
  window: MaintenanceWindow,
  dueMs: number,
): Promise<boolean> {
  return database.inTransaction(async (session) => {
    const { id, fleetId, machineId, site, fromMs, toMs } = window;
    const { rowCount } = await session.query({
      name: 'add-window',
      text: `INSERT INTO maintenance_window (id, fleet_id, machine_id, site, started, ended, body)
        VALUES ($1, $2, $3, $4, $5, $6, $7) ON CONFLICT DO NOTHING`,
      values: [id, fleetId, machineId, site, fromMs, toMs, JSON.stringify(window)],
    });
    if (rowCount > 0) await lookAgain(session, fleetId, dueMs);
    return rowCount > 0;
  });
}

/** Takes a window away. */
export async function deleteMaintenanceWindow(database: Database, id: string, dueMs: number): Promise<boolean> {
  return database.inTransaction(async (session) => {
    const text = 'DELETE FROM maintenance_window WHERE id = $1 RETURNING fleet_id';
    const { rows } = await session.query({ name: 'delete-window', text, values: [id] });
    const fleetId = rows[0]?.fleet_id as string | undefined;
    if (fleetId !== undefined) await lookAgain(session, fleetId, dueMs);
    return fleetId !== undefined;
  });
}

/** Rules have changed: each machine of the fleet that has alerts is looked at soon. */
async function lookAgain(session: Session, fleetId: string, dueMs: number): Promise<void> {
  await session.query({
    name: 'look-again',
    // In order of machine id, as commits go.
    text: `WITH own AS (SELECT s.machine_id FROM alert_state s JOIN machine m USING (machine_id)
        WHERE m.fleet_id = $1 ORDER BY s.machine_id FOR UPDATE OF s)
      UPDATE alert_state s SET next_due = least(s.next_due, $2) FROM own WHERE own.machine_id = s.machine_id`,
    values: [fleetId, Math.ceil(dueMs)],
  });
}
