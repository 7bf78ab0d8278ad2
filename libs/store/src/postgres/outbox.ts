/** Messages to send on: written by commits, taken under a lease, sent at least once and in order of their keys. */

import type { OutboxLease, OutboxMessageOf, OutboxTopic } from '../outbox-message.js';
import type { Database, Row, Session } from './database.js';

/** Key of the lock that lets one taker in at a time; only then is what it sees free still free. */
const lockKey = 7_269_141_552;
/** Messages given out at once, whatever the caller asks for. Source: engineering judgement. */
const maxTaken = 10_000;

/** The database's clock in epoch milliseconds, so that takers with wrong clocks do not cut each other's leases short. */
export const nowSql = '(extract(epoch FROM clock_timestamp()) * 1000)::int8';

/**
 * Takes free messages of one topic, oldest first. A key of it waits as a whole while one of its earlier messages is leased
 * or to be retried.
 */
export async function takeOutbox<T extends OutboxTopic>(
  database: Database,
  lease: OutboxLease<T>,
): Promise<OutboxMessageOf<T>[]> {
  const topic = lease.topic ?? 'aftertreatment.findings.v1';
  const limit = Math.min(maxTaken, Math.max(0, Math.trunc(lease.limit)));
  return database.inTransaction(async (session) => {
    // A statement of its own: the next one must see what the last taker has committed.
    await session.query({ text: 'SELECT pg_advisory_xact_lock($1)', values: [lockKey] });
    const { rows } = await session.query({
      name: 'take-outbox',
      text: `WITH free AS (
          SELECT id FROM outbox o WHERE topic = $4 AND sent IS NULL AND available <= ${nowSql} AND NOT EXISTS (
            SELECT 1 FROM outbox e
            WHERE e.topic = o.topic AND e.sent IS NULL AND e.key = o.key AND e.id < o.id AND e.available > ${nowSql})
          ORDER BY id LIMIT $1 FOR UPDATE SKIP LOCKED
        )
        UPDATE outbox o SET available = ${nowSql} + $2::int8, owner = $3, attempts = attempts + 1
        FROM free WHERE free.id = o.id
        RETURNING o.id, o.topic, o.key, o.subject_id, o.revision, o.payload, o.at, o.attempts`,
      values: [limit, Math.max(0, Math.round(lease.leaseMs)), lease.owner, topic],
    });
    return rows.map((row) => toMessage(row) as OutboxMessageOf<T>).sort((a, b) => a.id - b.id);
  });
}

/** Marks messages as sent. */
export async function settleOutbox(session: Session, ids: readonly number[]): Promise<void> {
  if (ids.length === 0) return;
  await session.query({
    name: 'settle-outbox',
    text: `UPDATE outbox SET sent = ${nowSql} WHERE id = ANY($1::int8[]) AND sent IS NULL`,
    values: [ids],
  });
}

/** Gives messages back, to be taken again from a time on. */
export async function failOutbox(database: Database, ids: readonly number[], retryAtMs: number): Promise<void> {
  if (ids.length === 0) return;
  await database.inTransaction(async (session) => {
    // Not while somebody takes: later messages of the key would look free.
    await session.query({ text: 'SELECT pg_advisory_xact_lock($1)', values: [lockKey] });
    await session.query({
      name: 'fail-outbox',
      text: 'UPDATE outbox SET available = $2, owner = NULL WHERE id = ANY($1::int8[]) AND sent IS NULL',
      values: [ids, Math.round(retryAtMs)],
    });
  });
}

function toMessage(row: Row): OutboxMessageOf<OutboxTopic> {
  const { id, topic, key, revision, payload, at: atMs, attempts } = row;
  const common = { id, key, revision, atMs, attempts };
  return topic === 'aftertreatment.alerts.v1'
    ? { ...common, topic, episodeId: row.subject_id, payload }
    : { ...common, topic, findingId: row.subject_id, payload };
}
