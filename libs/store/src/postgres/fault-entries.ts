/** Codes that people typed in, and the words of a fleet for codes. */

import type { FleetFault, FleetFaultTable } from '@warmbrick/analysis';
import type { EpisodeRange, FaultEntry, StoredFaultText } from '../fault-store.js';
import type { Database, Session } from './database.js';
import { foldFaultLogs } from './fold-fault-log.js';
import { earliestByMachine, markDue } from './inquiry-due.js';
import { wholeMs } from './whole-ms.js';

/** Stands for every failure mode of an SPN. */
const everyFmi = -1;

/** Stores a typed code and folds it into the log. False when it was there already. */
export async function addFaultEntry(database: Database, entry: FaultEntry): Promise<boolean> {
  const { machineId, timeMs } = entry.notice;
  return database.inTransaction(async (session) => {
    // Like every commit: the machine's row is what writers of its log wait for.
    await session.query({ text: 'SELECT 1 FROM machine WHERE machine_id = $1 FOR UPDATE', values: [machineId] });
    const { rowCount } = await session.query({
      name: 'add-fault-entry',
      text: `INSERT INTO fault_entry (machine_id, id, at, body, note, typed_by, typed_at)
        VALUES ($1, $2, $3, $4, $5, $6, $7) ON CONFLICT DO NOTHING`,
      values: [machineId, entry.id, timeMs, JSON.stringify(entry.notice), entry.note, entry.typedBy, entry.typedMs],
    });
    if (rowCount === 0) return false;
    const marks = await foldFaultLogs(session, new Map([[machineId, [entry.notice]]]));
    await markDue(session, earliestByMachine(marks));
    return true;
  });
}

/** Typed codes within [fromMs, toMs), in order of time. */
export async function listFaultEntries(session: Session, range: EpisodeRange): Promise<FaultEntry[]> {
  const { rows } = await session.query({
    name: 'list-fault-entries',
    text: `SELECT id, body, note, typed_by, typed_at FROM fault_entry
      WHERE machine_id = $1 AND at >= $2 AND at < $3 ORDER BY at, id LIMIT 1000`,
    values: [range.machineId, wholeMs(range.fromMs), wholeMs(range.toMs)],
  });
  return rows.map((row) => ({
    id: row.id,
    notice: row.body,
    note: row.note,
    typedBy: row.typed_by,
    typedMs: row.typed_at,
  }));
}

/** The table of a machine's fleet. */
export async function machineFaultTexts(session: Session, machineId: string): Promise<FleetFaultTable> {
  const { rows } = await session.query({
    name: 'machine-fault-texts',
    text: `SELECT body FROM fault_text
      WHERE fleet_id = coalesce((SELECT fleet_id FROM machine WHERE machine_id = $1), 'main') ORDER BY spn, fmi`,
    values: [machineId],
  });
  return rows.map(({ body }) => body as FleetFault);
}

/** The table of a fleet, by SPN and FMI. */
export async function listFaultTexts(session: Session, fleetId: string): Promise<StoredFaultText[]> {
  const { rows } = await session.query({
    name: 'list-fault-texts',
    text: 'SELECT body, changed_by, changed_at FROM fault_text WHERE fleet_id = $1 ORDER BY spn, fmi',
    values: [fleetId],
  });
  return rows.map((row) => ({ row: row.body, changedBy: row.changed_by, changedMs: row.changed_at }));
}

/** Replaces the table of a fleet; what stays the same keeps who wrote it. Its derates are inquired into anew. */
export async function putFaultTexts(
  database: Database,
  fleetId: string,
  put: { readonly table: FleetFaultTable; readonly name: string; readonly atMs: number },
): Promise<void> {
  const { table, name, atMs } = put;
  await database.inTransaction(async (session) => {
    const keys = [fleetId, table.map(({ spn }) => spn), table.map(({ fmi }) => fmi ?? everyFmi)];
    await session.query({
      text: `DELETE FROM fault_text WHERE fleet_id = $1
        AND (spn, fmi) NOT IN (SELECT * FROM unnest($2::int4[], $3::int2[]))`,
      values: keys,
    });
    await session.query({
      text: `INSERT INTO fault_text (fleet_id, spn, fmi, body, changed_by, changed_at)
        SELECT $1, spn, fmi, body::json, $5, $6 FROM unnest($2::int4[], $3::int2[], $4::text[]) AS t(spn, fmi, body)
        ON CONFLICT (fleet_id, spn, fmi) DO UPDATE SET body = excluded.body, changed_by = excluded.changed_by,
          changed_at = excluded.changed_at WHERE fault_text.body::text <> excluded.body::text`,
      values: [...keys, table.map((row) => JSON.stringify(row)), name, atMs],
    });
    const { rows } = await session.query({
      text: `SELECT machine_id FROM machine WHERE fleet_id = $1
        AND EXISTS (SELECT 1 FROM fault_episode e WHERE e.machine_id = machine.machine_id) ORDER BY machine_id`,
      values: [fleetId],
    });
    await markDue(
      session,
      rows.map(({ machine_id: machineId }) => ({ machineId, fromMs: 0 })),
    );
  });
}
