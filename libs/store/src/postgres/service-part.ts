/** The part of the store that knows service records, batches of DEF and inspections. */

import type { DefBatch, InspectionVersion, ServiceStore, StoredServiceRecord } from '../service-store.js';
import type { Database, Row, Session } from './database.js';

/** Most records, batches and versions that are read at once. Source: engineering judgement. */
const mostRecords = 2000;
const mostBatches = 1000;
const mostVersions = 5000;

/** Binds the part to a database. */
export function servicePart(database: Database): ServiceStore {
  return {
    addServiceRecords: (records) => addServiceRecords(database, records),
    deleteServiceRecord: (machineId, id) => deleteServiceRecord(database, machineId, id),
    listServiceRecords: (machineId) => listServiceRecords(database, machineId),
    servicedMachines: () => servicedMachines(database),
    putDefBatch: (batch) => putDefBatch(database, batch),
    deleteDefBatch: async (id) =>
      (await database.query({ text: 'DELETE FROM def_batch WHERE id = $1', values: [id] })).rowCount > 0,
    listDefBatches: () => listDefBatches(database),
    addInspection: (inspection) => addInspection(database, inspection),
    listInspections: (machineId, fromMs, toMs) => listInspections(database, machineId, { fromMs, toMs }),
  };
}

async function addServiceRecords(session: Session, records: readonly StoredServiceRecord[]): Promise<number> {
  if (records.length === 0) return 0;
  const { rowCount } = await session.query({
    name: 'add-service-records',
    text: `INSERT INTO service_record (id, machine_id, item, at, engine_hours, note, recorded_by, recorded)
      SELECT n.* FROM unnest($1::text[], $2::text[], $3::text[], $4::int8[], $5::float8[], $6::text[], $7::text[], $8::int8[])
        AS n(id, machine_id, item, at, engine_hours, note, recorded_by, recorded)
      WHERE EXISTS (SELECT 1 FROM machine m WHERE m.machine_id = n.machine_id)
      ON CONFLICT (id) DO NOTHING`,
    values: [
      records.map((it) => it.id),
      records.map((it) => it.machineId),
      records.map((it) => it.item),
      records.map((it) => Math.round(it.atMs)),
      records.map((it) => it.engineHours),
      records.map((it) => it.note),
      records.map((it) => it.recordedBy),
      records.map((it) => Math.round(it.recordedMs)),
    ],
  });
  return rowCount;
}

async function deleteServiceRecord(session: Session, machineId: string, id: string): Promise<boolean> {
  const { rowCount } = await session.query({
    text: 'DELETE FROM service_record WHERE machine_id = $1 AND id = $2',
    values: [machineId, id],
  });
  return rowCount > 0;
}

async function listServiceRecords(session: Session, machineId: string): Promise<StoredServiceRecord[]> {
  const { rows } = await session.query({
    name: 'list-service-records',
    text: `SELECT id, machine_id, item, at, engine_hours, note, recorded_by, recorded FROM service_record
      WHERE machine_id = $1 ORDER BY at DESC, id LIMIT ${mostRecords}`,
    values: [machineId],
  });
  return rows.map((row: Row) => ({
    id: row.id,
    machineId: row.machine_id,
    item: row.item,
    atMs: row.at,
    engineHours: row.engine_hours,
    note: row.note,
    recordedBy: row.recorded_by,
    recordedMs: row.recorded,
  }));
}

async function servicedMachines(session: Session): Promise<string[]> {
  const { rows } = await session.query({
    name: 'serviced-machines',
    text: 'SELECT DISTINCT machine_id FROM service_record ORDER BY machine_id',
  });
  return rows.map((row) => row.machine_id);
}

async function putDefBatch(session: Session, batch: DefBatch): Promise<void> {
  await session.query({
    name: 'put-def-batch',
    text: `INSERT INTO def_batch (id, fleet_id, purchased, body) VALUES ($1, $2, $3, $4)
      ON CONFLICT (id) DO UPDATE SET fleet_id = excluded.fleet_id, purchased = excluded.purchased, body = excluded.body`,
    values: [batch.id, batch.fleetId, Math.round(batch.purchasedMs), JSON.stringify(batch)],
  });
}

async function listDefBatches(session: Session): Promise<DefBatch[]> {
  const { rows } = await session.query({
    name: 'list-def-batches',
    text: `SELECT body FROM def_batch ORDER BY purchased, id LIMIT ${mostBatches}`,
  });
  return rows.map(({ body }) => body as DefBatch);
}

/** The key of the table tells two writers of one version apart; the one that is later writes nothing. */
async function addInspection(session: Session, inspection: InspectionVersion): Promise<boolean> {
  const { machineId, shiftStartedMs, version, atMs } = inspection;
  const { rowCount } = await session.query({
    name: 'add-inspection',
    text: `INSERT INTO inspection (machine_id, shift_started, version, at, body)
      SELECT $1, $2::int8, $3::int4, $4::int8, $5::json
      WHERE $3::int4 = 1 + coalesce((SELECT max(version) FROM inspection WHERE machine_id = $1 AND shift_started = $2::int8), 0)
      ON CONFLICT DO NOTHING`,
    values: [machineId, Math.round(shiftStartedMs), version, Math.round(atMs), JSON.stringify(inspection)],
  });
  return rowCount > 0;
}

async function listInspections(
  session: Session,
  machineId: string,
  { fromMs, toMs }: { fromMs: number; toMs: number },
): Promise<InspectionVersion[]> {
  const { rows } = await session.query({
    name: 'list-inspections',
    text: `SELECT body FROM inspection WHERE machine_id = $1 AND shift_started >= $2 AND shift_started < $3
      ORDER BY shift_started, version LIMIT ${mostVersions}`,
    values: [machineId, Math.ceil(fromMs), Math.ceil(toMs)],
  });
  return rows.map(({ body }) => body as InspectionVersion);
}
