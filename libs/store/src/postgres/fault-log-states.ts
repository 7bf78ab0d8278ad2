/** Where the folding of fault reports stands, and where it stood at the end of each day, to fold late ones from. */

import type { FaultLogState } from '@warmbrick/analysis';
import type { Session } from './database.js';

/** Age against the newest at which only the last snapshot of a month is kept, ms. Source: as for the analyser's states. */
const dailyMs = 62 * 86_400_000;

/** A state with the time up to which it was folded. */
export interface KeptFaultLog {
  readonly machineId: string;
  readonly atMs: number;
  readonly isMonthEnd: boolean;
  readonly state: FaultLogState;
}

/** The states of machines; those without one are left out. */
export async function loadFaultLogs(
  session: Session,
  machineIds: readonly string[],
): Promise<Map<string, FaultLogState>> {
  const { rows } = await session.query({
    name: 'load-fault-logs',
    text: 'SELECT machine_id, body FROM fault_log_state WHERE machine_id = ANY($1::text[])',
    values: [machineIds],
  });
  return new Map(rows.map((row) => [row.machine_id, row.body]));
}

/** Stores the states as they now stand. */
export async function saveFaultLogs(
  session: Session,
  logs: readonly { readonly machineId: string; readonly state: FaultLogState }[],
): Promise<void> {
  await session.query({
    name: 'save-fault-logs',
    text: `INSERT INTO fault_log_state (machine_id, body)
      SELECT machine_id, body::json FROM unnest($1::text[], $2::text[]) AS t(machine_id, body)
      ON CONFLICT (machine_id) DO UPDATE SET body = excluded.body`,
    values: [logs.map(({ machineId }) => machineId), logs.map(({ state }) => JSON.stringify(state))],
  });
}

/** Keeps snapshots, and thins out what is old against them. */
export async function keepFaultSnapshots(session: Session, kept: readonly KeptFaultLog[]): Promise<void> {
  if (kept.length === 0) return;
  const machineIds = kept.map(({ machineId }) => machineId);
  const times = kept.map(({ atMs }) => atMs);
  await session.query({
    name: 'keep-fault-snapshots',
    text: `INSERT INTO fault_log_snapshot (machine_id, at, is_month_end, body)
      SELECT machine_id, at, is_month_end, body::json
      FROM unnest($1::text[], $2::int8[], $3::bool[], $4::text[]) AS t(machine_id, at, is_month_end, body)
      ON CONFLICT (machine_id, at) DO UPDATE SET is_month_end = excluded.is_month_end, body = excluded.body`,
    values: [
      machineIds,
      times,
      kept.map(({ isMonthEnd }) => isMonthEnd),
      kept.map(({ state }) => JSON.stringify(state)),
    ],
  });
  await session.query({
    name: 'thin-fault-snapshots',
    text: `DELETE FROM fault_log_snapshot s
      USING (SELECT machine_id, max(at) AS newest FROM unnest($1::text[], $2::int8[]) AS t(machine_id, at) GROUP BY 1) t
      WHERE s.machine_id = t.machine_id AND s.at < t.newest - ${dailyMs} AND NOT s.is_month_end`,
    values: [machineIds, times],
  });
}

/** Takes snapshots after a time away: they are without something that came since. */
export async function voidFaultSnapshots(
  session: Session,
  voids: readonly { readonly machineId: string; readonly afterMs: number }[],
): Promise<void> {
  if (voids.length === 0) return;
  await session.query({
    name: 'void-fault-snapshots',
    text: `DELETE FROM fault_log_snapshot s USING unnest($1::text[], $2::int8[]) AS t(machine_id, after)
      WHERE s.machine_id = t.machine_id AND s.at > t.after`,
    values: [voids.map(({ machineId }) => machineId), voids.map(({ afterMs }) => Math.floor(afterMs))],
  });
}

/** The newest snapshot that has folded nothing at or after a time. */
export async function faultLogBefore(
  session: Session,
  machineId: string,
  beforeMs: number,
): Promise<{ atMs: number; state: FaultLogState } | null> {
  const { rows } = await session.query({
    name: 'fault-log-before',
    text: 'SELECT at, body FROM fault_log_snapshot WHERE machine_id = $1 AND at < $2 ORDER BY at DESC LIMIT 1',
    values: [machineId, Math.floor(beforeMs)],
  });
  return rows[0] === undefined ? null : { atMs: rows[0].at, state: rows[0].body };
}
