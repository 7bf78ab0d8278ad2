/** The part of the store that knows alerts and their rules. */

import type { ClientConfig } from 'pg';
import type { AlertStore, MachineHistory } from '../alert-store.js';
import { type AlertDesk, bookKeptMs } from './alert-desk.js';
import { followAlerts } from './alert-feed.js';
import {
  addMaintenanceWindow,
  deleteMaintenanceWindow,
  deleteRule,
  listMaintenanceWindows,
  listRules,
  putRule,
} from './alert-rules.js';
import { actOnAlert, getAlert, listAlerts } from './alerts.js';
import type { Database, Row, Session } from './database.js';
import { toFinding } from './findings.js';
import { tickAlerts } from './fold-alerts.js';

/** Binds the part to a database. Without a desk nothing ticks. */
export function alertPart(database: Database, desk: AlertDesk | null, connection: ClientConfig): AlertStore {
  // Until then every process has the rules of now.
  const dueMs = (nowMs: number) => nowMs + bookKeptMs + 1000;
  const changed = <T>(result: T): T => {
    desk?.forgetBook();
    return result;
  };
  return {
    listAlerts: (page) => listAlerts(database, page),
    getAlert: (episodeId) => getAlert(database, episodeId),
    actOnAlert: (episodeId, action, by) => actOnAlert(database, desk, { episodeId, action, ...by }),
    tickAlerts: async (nowMs, limit) => (desk === null ? 0 : tickAlerts(database, desk, { nowMs, limit })),
    followAlerts: (onEvents) => followAlerts({ connection, database, now: desk?.config.now ?? Date.now, onEvents }),
    listRules: (fleetIds) => listRules(database, fleetIds),
    putRule: async (change) => changed(await putRule(database, change, dueMs(change.nowMs))),
    deleteRule: async (fleetId, ruleId, nowMs) =>
      changed(await deleteRule(database, { fleetId, ruleId }, dueMs(nowMs))),
    listMaintenanceWindows: (endAfterMs) => listMaintenanceWindows(database, endAfterMs),
    addMaintenanceWindow: async (window, nowMs) => changed(await addMaintenanceWindow(database, window, dueMs(nowMs))),
    deleteMaintenanceWindow: async (id, nowMs) => changed(await deleteMaintenanceWindow(database, id, dueMs(nowMs))),
    machineHistories: (range) => machineHistories(database, range),
  };
}

/** Machines tried on at most; findings of one machine at most. Source: engineering judgement. */
const mostMachines = 2000;
const mostFindings = 100_000;
const mostSnapshots = 5000;

async function machineHistories(
  session: Session,
  { fleetIds, fromMs, toMs, kinds, hasSnapshots, limit }: Parameters<AlertStore['machineHistories']>[0],
): Promise<MachineHistory[]> {
  const machines = await session.query({
    text: `SELECT machine_id, fleet_id, profile, summary FROM machine
      WHERE last_sample >= $1 AND ($2::text[] IS NULL OR fleet_id = ANY($2::text[])) ORDER BY machine_id LIMIT $3`,
    values: [Math.floor(fromMs), fleetIds === 'all' ? null : fleetIds, Math.min(limit, mostMachines)],
  });
  const ids = machines.rows.map((row) => row.machine_id as string);
  const { rows } = await session.query({
    text: `SELECT id, machine_id, kind, started, ended, severity, "values", evidence, threshold_set, emitted FROM finding
      WHERE machine_id = ANY($1::text[]) AND started >= $2 AND started < $3 AND kind = ANY($4::text[])
        AND withdrawn_at IS NULL ORDER BY started, id LIMIT ${mostFindings}`,
    values: [ids, Math.floor(fromMs), Math.ceil(toMs), kinds],
  });
  const byMachine = new Map<string, Row[]>();
  for (const row of rows) {
    const own = byMachine.get(row.machine_id) ?? [];
    own.push(row);
    byMachine.set(row.machine_id, own);
  }
  const snapshots = hasSnapshots ? await readSnapshots(session, ids, { fromMs, toMs }) : new Map();
  return machines.rows.map((row) => ({
    machineId: row.machine_id,
    fleetId: row.fleet_id,
    profile: row.profile,
    summary: row.summary,
    findings: (byMachine.get(row.machine_id) ?? []).map(toFinding),
    snapshots: snapshots.get(row.machine_id) ?? [],
  }));
}

async function readSnapshots(
  session: Session,
  machineIds: readonly string[],
  { fromMs, toMs }: { fromMs: number; toMs: number },
): Promise<Map<string, MachineHistory['snapshots'][number][]>> {
  const { rows } = await session.query({
    text: `SELECT machine_id, at, body FROM analyzer_snapshot
      WHERE machine_id = ANY($1::text[]) AND at >= $2 AND at < $3 ORDER BY at LIMIT ${mostSnapshots}`,
    values: [machineIds, Math.floor(fromMs), Math.ceil(toMs)],
  });
  const byMachine = new Map<string, MachineHistory['snapshots'][number][]>();
  for (const row of rows) {
    const own = byMachine.get(row.machine_id) ?? [];
    own.push({ atMs: row.at, snapshot: row.body });
    byMachine.set(row.machine_id, own);
  }
  return byMachine;
}
