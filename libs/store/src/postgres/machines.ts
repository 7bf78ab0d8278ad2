/** Machines: what they are and how they stand. */

import { defaultProfile, type MachineProfile } from '@warmbrick/signals';
import type { MachineChange, MachinePage, Page, StoredMachine } from '../store.js';
import type { Row, Session } from './database.js';
import { ensureFleet } from './fleets.js';
import { pageLimit, toPage } from './page.js';
import { decodeCursor } from './page-cursor.js';

const columns = 'machine_id, profile, threshold_set, summary, last_sample, score_order, sort_name';

/** Registers a machine or replaces its profile, and moves it to the fleet that the profile names. */
export async function putMachine(session: Session, machineId: string, profile: MachineProfile): Promise<void> {
  if (profile.fleet !== undefined) await ensureFleet(session, profile.fleet);
  await session.query({
    name: 'put-machine',
    text: `INSERT INTO machine (machine_id, sort_name, site, profile, fleet_id)
      VALUES ($1, $2, $3, $4, coalesce($5, (SELECT fleet_id FROM machine WHERE machine_id = $1), 'main'))
      ON CONFLICT (machine_id) DO UPDATE SET sort_name = excluded.sort_name, site = excluded.site, profile = excluded.profile,
        fleet_id = excluded.fleet_id`,
    values: [
      machineId,
      sortName(machineId, profile),
      profile.site ?? null,
      JSON.stringify(profile),
      profile.fleet ?? null,
    ],
  });
}

/**
 * Writes how the machines stand, and locks their rows until the transaction ends.
 *
 * A machine that nobody has registered gets the default profile; one without a summary stays as it stood. Changes come in order of machine id: transactions
 * that lock in one order cannot lock each other out.
 */
export async function writeStanding(session: Session, changes: readonly MachineChange[]): Promise<void> {
  await session.query({
    name: 'write-standing',
    text: `INSERT INTO machine (machine_id, sort_name, profile, threshold_set, summary, last_sample, score_order)
      SELECT machine_id, sort_name, $7::json, threshold_set, summary::json, last_sample, score_order
      FROM unnest($1::text[], $2::text[], $3::text[], $4::text[], $5::int8[], $6::float8[])
        AS t(machine_id, sort_name, threshold_set, summary, last_sample, score_order)
      ON CONFLICT (machine_id) DO UPDATE SET
        threshold_set = coalesce(excluded.threshold_set, machine.threshold_set),
        last_sample = coalesce(excluded.last_sample, machine.last_sample),
        score_order = CASE WHEN excluded.summary IS NULL THEN machine.score_order ELSE excluded.score_order END,
        summary = coalesce(excluded.summary, machine.summary)`,
    values: [
      changes.map((change) => change.machineId),
      changes.map((change) => sortName(change.machineId, defaultProfile)),
      changes.map((change) => change.snapshot?.thresholdSet ?? null),
      changes.map((change) => (change.summary === null ? null : JSON.stringify(change.summary))),
      changes.map((change) => (change.summary === null ? null : Math.round(change.summary.observed.toMs))),
      changes.map((change) => change.summary?.score?.value ?? -1),
      JSON.stringify(defaultProfile),
    ],
  });
}

/** One machine that was seen at least once; null otherwise. */
export async function getMachine(session: Session, machineId: string): Promise<StoredMachine | null> {
  const text = `SELECT ${columns} FROM machine WHERE machine_id = $1 AND last_sample IS NOT NULL`;
  const { rows } = await session.query({ name: 'get-machine', text, values: [machineId] });
  return rows[0] === undefined ? null : toMachine(rows[0]);
}

/** Time of the last sample of every machine that was seen. */
export async function machineClocks(session: Session): Promise<Map<string, number>> {
  const text = 'SELECT machine_id, last_sample FROM machine WHERE last_sample IS NOT NULL';
  const { rows } = await session.query({ name: 'machine-clocks', text });
  return new Map(rows.map((row) => [row.machine_id, row.last_sample]));
}

/** The profile of a registered machine, seen or not; null for an unknown one. */
export async function loadProfile(session: Session, machineId: string): Promise<MachineProfile | null> {
  const text = 'SELECT profile FROM machine WHERE machine_id = $1';
  const { rows } = await session.query({ name: 'load-profile', text, values: [machineId] });
  return (rows[0]?.profile as MachineProfile | undefined) ?? null;
}

const riskPosition = { score: 'number', id: 'string' } as const;
const namePosition = { name: 'string', id: 'string' } as const;

/** Machines that were seen, by falling score or rising name; machines of equal standing in order of their ids. */
export async function listMachines(session: Session, page: MachinePage): Promise<Page<StoredMachine>> {
  const limit = pageLimit(page.limit);
  const values: unknown[] = [limit + 1];
  const value = (it: unknown) => `$${values.push(it)}`;
  const conditions = ['last_sample IS NOT NULL'];
  if (page.fleets !== undefined) conditions.push(`fleet_id = ANY(${value(page.fleets)}::text[])`);
  if (page.site !== undefined) conditions.push(`site = ${value(page.site)}`);
  if (page.cursor !== undefined && page.sort === 'risk') {
    const { score, id } = decodeCursor<{ score: number; id: string }>(page.cursor, 'risk', riskPosition);
    const at = value(score);
    conditions.push(`score_order <= ${at} AND (score_order < ${at} OR machine_id > ${value(id)})`);
  } else if (page.cursor !== undefined) {
    const { name, id } = decodeCursor<{ name: string; id: string }>(page.cursor, 'name', namePosition);
    conditions.push(`(sort_name, machine_id) > (${value(name)}, ${value(id)})`);
  }
  const order = page.sort === 'risk' ? 'score_order DESC, machine_id' : 'sort_name, machine_id';
  const text = `SELECT ${columns} FROM machine WHERE ${conditions.join(' AND ')} ORDER BY ${order} LIMIT $1`;
  const { rows } = await session.query({ text, values });
  const toPosition = (row: Row) =>
    page.sort === 'risk' ? { score: row.score_order, id: row.machine_id } : { name: row.sort_name, id: row.machine_id };
  return toPage(rows, { list: page.sort, limit, toItem: toMachine, toPosition });
}

function toMachine(row: Row): StoredMachine {
  return {
    machineId: row.machine_id,
    profile: row.profile,
    thresholdSet: row.threshold_set,
    summary: row.summary,
    lastSampleMs: row.last_sample,
  };
}

function sortName(machineId: string, profile: MachineProfile): string {
  return (profile.name ?? machineId).toLowerCase();
}
