/** Destinations of alerts, and where machines belong. */

import type { Destination, MachinePlace } from '../delivery-store.js';
import type { Session } from './database.js';

/** All destinations, by id. */
export async function listDestinations(session: Session): Promise<Destination[]> {
  const { rows } = await session.query({
    name: 'list-destinations',
    text: 'SELECT body FROM destination ORDER BY id',
  });
  return rows.map(({ body }) => body as Destination);
}

/** Makes or replaces a destination. */
export async function putDestination(session: Session, destination: Destination): Promise<void> {
  await session.query({
    name: 'put-destination',
    text: `INSERT INTO destination (id, fleet_id, body) VALUES ($1, $2, $3)
      ON CONFLICT (id) DO UPDATE SET fleet_id = EXCLUDED.fleet_id, body = EXCLUDED.body`,
    values: [destination.id, destination.fleetId, JSON.stringify(destination)],
  });
}

/** Deletes a destination with its deliveries. */
export async function deleteDestination(session: Session, id: string): Promise<boolean> {
  const { rowCount } = await session.query({ text: 'DELETE FROM destination WHERE id = $1', values: [id] });
  return rowCount > 0;
}

/** Places of the machines that are known. */
export async function machinePlaces(
  session: Session,
  machineIds: readonly string[],
): Promise<Map<string, MachinePlace>> {
  if (machineIds.length === 0) return new Map();
  const { rows } = await session.query({
    name: 'machine-places',
    text: `SELECT machine_id, fleet_id, site, coalesce(profile->>'name', machine_id) AS name
      FROM machine WHERE machine_id = ANY($1::text[])`,
    values: [machineIds],
  });
  return new Map(rows.map((row) => [row.machine_id, { name: row.name, fleetId: row.fleet_id, site: row.site }]));
}
