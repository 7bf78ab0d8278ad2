/** Fleets: which machines belong together, and who may see them. */

import { defaultProfile } from '@warmbrick/signals';
import type { Fleet } from '../access-store.js';
import type { Session } from './database.js';
import { nowSql } from './outbox.js';

/** Fleets listed at most; there are a handful. */
const mostFleets = 1000;

/** All fleets with the number of their machines. */
export async function listFleets(session: Session): Promise<Fleet[]> {
  const { rows } = await session.query({
    name: 'list-fleets',
    text: `SELECT f.fleet_id, f.name, f.created, (SELECT count(*)::int4 FROM machine m WHERE m.fleet_id = f.fleet_id) AS machines
      FROM fleet f ORDER BY f.fleet_id LIMIT ${mostFleets}`,
  });
  return rows.map((row) => ({
    fleetId: row.fleet_id,
    name: row.name,
    createdMs: row.created,
    machines: row.machines,
  }));
}

/** Makes a fleet; false when its id is taken. */
export async function addFleet(session: Session, fleet: { fleetId: string; name: string }): Promise<boolean> {
  const { rowCount } = await session.query({
    text: `INSERT INTO fleet (fleet_id, name, created) VALUES ($1, $2, ${nowSql}) ON CONFLICT DO NOTHING`,
    values: [fleet.fleetId, fleet.name],
  });
  return rowCount === 1;
}

/** Renames a fleet; false when there is none. */
export async function renameFleet(session: Session, fleetId: string, name: string): Promise<boolean> {
  const { rowCount } = await session.query({
    text: 'UPDATE fleet SET name = $2, revision = revision + 1 WHERE fleet_id = $1',
    values: [fleetId, name],
  });
  return rowCount === 1;
}

/** Fleets by machine; unknown machines are left out. */
export async function fleetsOf(session: Session, machineIds: readonly string[]): Promise<Map<string, string>> {
  const { rows } = await session.query({
    name: 'fleets-of',
    text: 'SELECT machine_id, fleet_id FROM machine WHERE machine_id = ANY($1::text[])',
    values: [machineIds],
  });
  return new Map(rows.map((row) => [row.machine_id as string, row.fleet_id as string]));
}

/** Moves a machine, and makes the fleet and the machine where they are missing. */
export async function moveMachine(session: Session, machineId: string, fleetId: string): Promise<void> {
  await ensureFleet(session, fleetId);
  await session.query({
    text: `INSERT INTO machine (machine_id, fleet_id, sort_name, profile) VALUES ($1, $2, lower($1), $3)
      ON CONFLICT (machine_id) DO UPDATE SET fleet_id = excluded.fleet_id WHERE machine.fleet_id <> excluded.fleet_id`,
    values: [machineId, fleetId, JSON.stringify(defaultProfile)],
  });
}

/** Makes a fleet unless there is one. Asked first: who sees some fleets only may make none. */
export async function ensureFleet(session: Session, fleetId: string): Promise<void> {
  const { rowCount } = await session.query({
    name: 'find-fleet',
    text: 'SELECT 1 FROM fleet WHERE fleet_id = $1',
    values: [fleetId],
  });
  if (rowCount === 0) await addFleet(session, { fleetId, name: fleetId });
}
