/** Deleting by age, in steps that hold nobody up. */

import type { Retention, Retired } from '../store.js';
import type { Database, Session } from './database.js';
import { firstMonthMs } from './partitioned-samples.js';
import { retireRepeatable } from './repeatable.js';
import type { SampleMonths } from './sample-months.js';

/** Key of the lock that lets one process delete at a time. */
const lockKey = 7_269_141_553;
/** Machines or rows of one step. Source: engineering judgement: well under a second. */
const machinesPerStep = 500;
const rowsPerStep = 20_000;
/** How long dropping a month may wait for those who read it; nobody else can read meanwhile. */
const dropWaitMs = 1_000;

interface Retaining {
  readonly database: Database;
  readonly months: SampleMonths;
}

/** Deletes what is older than the retention says; an age of null deletes nothing. */
export async function retain({ database, months }: Retaining, retention: Retention, nowMs: number): Promise<Retired> {
  const before = (ageMs: number | null) => (ageMs === null ? null : Math.floor(nowMs - ageMs));
  await months.ensureAround(nowMs);
  await step(database, retireRepeatable);
  const samplesBefore = before(retention.samplesMs);
  const sampleMonths = samplesBefore === null ? 0 : await dropMonths(database, samplesBefore);
  if (sampleMonths > 0) months.forget();
  return {
    sampleMonths,
    chunks: await deleteOld(database, { table: 'sample_chunk_early', age: 't1' }, samplesBefore),
    rows: await deleteByMachine(database, { table: 'residency_row', age: 'started' }, before(retention.rowsMs)),
    snapshots: await deleteByMachine(
      database,
      { table: 'analyzer_snapshot', age: 'at' },
      before(retention.snapshotsMs),
    ),
    faults: await deleteByMachine(database, { table: 'fault_report', age: 'at' }, before(retention.faultsMs)),
    sentOutbox: await deleteOld(database, { table: 'outbox', age: 'sent' }, before(retention.sentOutboxMs)),
    unsentOutbox: await deleteOld(
      database,
      { table: 'outbox', age: 'at', condition: 'sent IS NULL' },
      before(retention.unsentOutboxMs),
    ),
    rejects: await deleteOld(database, { table: 'reject', age: 'at' }, before(retention.rejectsMs)),
    alerts: await deleteAlerts(database, before(retention.alertsMs ?? null)),
  };
}

/** Runs a step unless another process is deleting; null then. */
async function step<T>(database: Database, body: (session: Session) => Promise<T>): Promise<T | null> {
  return database.inTransaction(async (session) => {
    const { rows } = await session.query({ text: 'SELECT pg_try_advisory_xact_lock($1) AS mine', values: [lockKey] });
    return rows[0]?.mine === true ? body(session) : null;
  });
}

interface Aged {
  readonly table: string;
  /** Column with the time in epoch ms. */
  readonly age: string;
  readonly condition?: string;
}

async function deleteOld(
  database: Database,
  { table, age, condition }: Aged,
  beforeMs: number | null,
): Promise<number> {
  if (beforeMs === null) return 0;
  const and = condition === undefined ? '' : ` AND ${condition}`;
  const text = `DELETE FROM ${table} WHERE ctid = ANY (ARRAY(
    SELECT ctid FROM ${table} WHERE ${age} < $1${and} LIMIT ${rowsPerStep} FOR UPDATE SKIP LOCKED))`;
  let deleted = 0;
  for (;;) {
    const result = await step(database, (session) => session.query({ text, values: [beforeMs] }));
    deleted += result?.rowCount ?? 0;
    if (result === null || result.rowCount < rowsPerStep) return deleted;
  }
}

/** An alert goes with all its steps, or not at all. */
async function deleteAlerts(database: Database, beforeMs: number | null): Promise<number> {
  if (beforeMs === null) return 0;
  const text = `WITH old AS (SELECT episode_id FROM alert WHERE learned < $1 AND NOT is_open
      LIMIT ${rowsPerStep / 10} FOR UPDATE SKIP LOCKED),
    steps AS (DELETE FROM alert_event e USING old WHERE e.episode_id = old.episode_id)
    DELETE FROM alert a USING old WHERE a.episode_id = old.episode_id`;
  let deleted = 0;
  for (;;) {
    const result = await step(database, (session) => session.query({ text, values: [beforeMs] }));
    deleted += result?.rowCount ?? 0;
    if (result === null || result.rowCount < rowsPerStep / 10) return deleted;
  }
}

/** Tables whose key starts with the machine: machine by machine, so that each step finds its rows by the key. */
async function deleteByMachine(database: Database, { table, age }: Aged, beforeMs: number | null): Promise<number> {
  if (beforeMs === null) return 0;
  let deleted = 0;
  for (let after: string | null = ''; after !== null; ) {
    const from: string = after;
    after = await step(database, async (session) => {
      const { rows } = await session.query({
        text: 'SELECT machine_id FROM machine WHERE machine_id > $1 ORDER BY machine_id LIMIT $2',
        values: [from, machinesPerStep],
      });
      const ids = rows.map((row) => row.machine_id as string);
      const text = `DELETE FROM ${table} WHERE machine_id = ANY($1::text[]) AND ${age} < $2`;
      deleted += (await session.query({ text, values: [ids, beforeMs] })).rowCount;
      return ids.at(-1) ?? null;
    });
  }
  return deleted;
}

async function dropMonths(database: Database, beforeMs: number): Promise<number> {
  const { rows } = await database.query({
    text: `SELECT c.relname AS name FROM pg_inherits i JOIN pg_class c ON c.oid = i.inhrelid
      WHERE i.inhparent = 'sample_chunk'::regclass ORDER BY c.relname`,
  });
  let dropped = 0;
  for (const { name } of rows) {
    const endMs = monthEndMs(name);
    if (endMs === null || endMs > beforeMs) continue;
    const isDropped = await step(database, (session) => dropMonth(session, name));
    if (isDropped === true) dropped++;
  }
  return dropped;
}

/** Drops a month's table; false when readers hold it, and the next call tries again. */
async function dropMonth(session: Session, name: string): Promise<boolean> {
  await session.query({ text: 'SAVEPOINT drop_month' });
  try {
    await session.query({ text: `SET LOCAL lock_timeout = ${dropWaitMs}` });
    await session.query({ text: `DROP TABLE IF EXISTS ${name}` });
    return true;
  } catch (error) {
    if ((error as { code?: unknown }).code !== '55P03') throw error;
    await session.query({ text: 'ROLLBACK TO drop_month' });
    return false;
  }
}

/** End of the month that a table's name tells; null for the tables that are no month. */
function monthEndMs(name: string): number | null {
  const found = /^sample_chunk_(\d{4})_(\d{2})$/.exec(name);
  if (found === null) return null;
  const endMs = Date.UTC(Number(found[1]), Number(found[2]));
  return endMs > firstMonthMs ? endMs : null;
}
