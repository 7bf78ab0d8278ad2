/** Deliveries: written once, taken under a lease, tried until they are sent or dead. */

import type {
  AttemptRecord,
  Delivery,
  DeliveryAttempt,
  DeliveryLease,
  DeliveryPage,
  NewDelivery,
} from '../delivery-store.js';
import type { Page } from '../store.js';
import type { Database, Row, Session } from './database.js';
import { nowSql, settleOutbox } from './outbox.js';
import { pageLimit, toPage } from './page.js';
import { decodeCursor } from './page-cursor.js';

/** Key of the lock that lets one taker in at a time. */
const lockKey = 7_269_141_553;
/** Deliveries given out at once, whatever the caller asks for. Source: engineering judgement. */
const maxTaken = 1_000;

const columns = `d.id, d.seq, d.destination_id, d.machine_id, d.thread_id, d.subject, d.body, d.plain, d.state, d.available,
  d.attempts, d.created, d.first_tried, d.sent`;

/** Settles outbox messages and writes their deliveries, in one transaction. */
export async function fanOut(
  database: Database,
  outboxIds: readonly number[],
  deliveries: readonly NewDelivery[],
): Promise<void> {
  await database.inTransaction(async (session) => {
    await insertDeliveries(session, deliveries);
    await settleOutbox(session, outboxIds);
  });
}

async function insertDeliveries(session: Session, deliveries: readonly NewDelivery[]): Promise<void> {
  if (deliveries.length === 0) return;
  await session.query({
    name: 'insert-deliveries',
    text: `INSERT INTO delivery
        (id, destination_id, machine_id, thread_id, subject, body, plain, available, created)
      SELECT n.id, n.destination_id, n.machine_id, n.thread_id, n.subject, n.body, n.plain, n.available, ${nowSql}
      FROM unnest($1::text[], $2::text[], $3::text[], $4::text[], $5::text[], $6::text[], $7::text[], $8::int8[],
        $9::bool[]) WITH ORDINALITY
        AS n(id, destination_id, machine_id, thread_id, subject, body, plain, available, only_if_heard, place)
      WHERE EXISTS (SELECT 1 FROM destination WHERE destination.id = n.destination_id)
        AND (NOT n.only_if_heard OR EXISTS (
          SELECT 1 FROM delivery h WHERE h.destination_id = n.destination_id AND h.thread_id = n.thread_id))
      ORDER BY n.place ON CONFLICT (id) DO NOTHING`,
    values: [
      deliveries.map((it) => it.id),
      deliveries.map((it) => it.destinationId),
      deliveries.map((it) => it.machineId),
      deliveries.map((it) => it.threadId),
      deliveries.map((it) => it.subject),
      deliveries.map((it) => it.body),
      deliveries.map((it) => it.text),
      deliveries.map((it) => Math.round(it.availableMs)),
      deliveries.map((it) => it.onlyIfHeard),
    ],
  });
}

/** The first of each thread that waits is free, or all of them. */
const firstOfThread = `NOT EXISTS (
  SELECT 1 FROM delivery e WHERE e.state = 'waiting' AND e.destination_id = d.destination_id
    AND e.thread_id = d.thread_id AND e.seq < d.seq)`;
const freeOnes = {
  'one-by-one': `destination_id <> ALL($4::text[]) AND ${firstOfThread}`,
  together: 'destination_id = ANY($4::text[])',
} as const;

/** Takes what is due, oldest first. */
export async function takeDeliveries(database: Database, lease: DeliveryLease): Promise<Delivery[]> {
  const limit = Math.min(maxTaken, Math.max(0, Math.trunc(lease.limit)));
  return database.inTransaction(async (session) => {
    // A statement of its own: the next one must see what the last taker has committed.
    await session.query({ text: 'SELECT pg_advisory_xact_lock($1)', values: [lockKey] });
    const { rows } = await session.query({
      name: `take-deliveries-${lease.mode}`,
      text: `WITH due AS (
          SELECT id FROM (
            SELECT id, available, seq, row_number() OVER (PARTITION BY destination_id ORDER BY available, seq) AS place
            FROM delivery d WHERE state = 'waiting' AND available <= ${nowSql} AND ${freeOnes[lease.mode]}
          ) AS free WHERE place <= $5 ORDER BY available, seq LIMIT $1
        )
        UPDATE delivery d SET available = ${nowSql} + $2::int8, owner = $3, attempts = attempts + 1,
          first_tried = coalesce(first_tried, ${nowSql})
        FROM due WHERE due.id = d.id RETURNING ${columns}`,
      values: [
        limit,
        Math.max(0, Math.round(lease.leaseMs)),
        lease.owner,
        lease.destinationIds,
        Math.max(1, Math.trunc(lease.perDestination)),
      ],
    });
    return rows.sort((a, b) => a.seq - b.seq).map(toDelivery);
  });
}

/** Writes how tries ended. */
export async function recordAttempts(database: Database, records: readonly AttemptRecord[]): Promise<void> {
  if (records.length === 0) return;
  await database.inTransaction(async (session) => {
    for (const { deliveryId, attempt, state, availableMs } of records) {
      const { rowCount } = await session.query({
        name: 'settle-delivery',
        text: `UPDATE delivery SET state = CASE WHEN state = 'waiting' THEN $2 ELSE state END,
            available = $3, owner = NULL, sent = CASE WHEN $2 = 'sent' THEN coalesce(sent, ${nowSql}) ELSE sent END
          WHERE id = $1`,
        values: [deliveryId, state, Math.round(availableMs)],
      });
      // Its destination may have been deleted while it was under way.
      if (rowCount === 0) continue;
      await session.query({
        name: 'log-delivery',
        text: `INSERT INTO delivery_attempt (delivery_id, at, result, status, detail, took_ms)
          VALUES ($1, $2, $3, $4, $5, $6)`,
        values: [
          deliveryId,
          Math.round(attempt.atMs),
          attempt.result,
          storable(attempt.status),
          storable(attempt.detail),
          Math.round(attempt.tookMs),
        ],
      });
    }
  });
}

/** PostgreSQL's text holds every character but one. */
function storable(text: string): string {
  return text.replaceAll('\u0000', '\ufffd');
}

/** Deliveries, newest first. */
export async function listDeliveries(session: Session, page: DeliveryPage): Promise<Page<Delivery>> {
  const limit = pageLimit(page.limit);
  const values: unknown[] = [limit + 1];
  const value = (it: unknown) => `$${values.push(it)}`;
  const conditions = ['true'];
  if (page.destinationId !== undefined) conditions.push(`d.destination_id = ${value(page.destinationId)}`);
  if (page.machineId !== undefined) conditions.push(`d.machine_id = ${value(page.machineId)}`);
  if (page.state !== undefined) conditions.push(`d.state = ${value(page.state)}`);
  if (page.cursor !== undefined) {
    const { seq } = decodeCursor<{ seq: number }>(page.cursor, 'deliveries', { seq: 'number' });
    conditions.push(`d.seq < ${value(seq)}`);
  }
  const { rows } = await session.query({
    text: `SELECT ${columns} FROM delivery d WHERE ${conditions.join(' AND ')} ORDER BY d.seq DESC LIMIT $1`,
    values,
  });
  return toPage(rows, { list: 'deliveries', limit, toItem: toDelivery, toPosition: ({ seq }) => ({ seq }) });
}

/** The log of one delivery, oldest first; null for an unknown one. */
export async function deliveryAttempts(session: Session, id: string): Promise<DeliveryAttempt[] | null> {
  const { rows } = await session.query({
    name: 'delivery-attempts',
    text: `SELECT a.at, a.result, a.status, a.detail, a.took_ms FROM delivery d
      LEFT JOIN delivery_attempt a ON a.delivery_id = d.id WHERE d.id = $1 ORDER BY a.n`,
    values: [id],
  });
  if (rows.length === 0) return null;
  return rows
    .filter(({ at }) => at !== null)
    .map(({ at, result, status, detail, took_ms: tookMs }) => ({ atMs: at, result, status, detail, tookMs }));
}

/** Sends a delivery once more; the day of tries begins anew. */
export async function resendDelivery(session: Session, id: string, nowMs: number): Promise<boolean> {
  const { rowCount } = await session.query({
    name: 'resend-delivery',
    text: `UPDATE delivery SET state = 'waiting', available = $2, owner = NULL, attempts = 0, first_tried = NULL, sent = NULL
      WHERE id = $1`,
    values: [id, Math.round(nowMs)],
  });
  return rowCount > 0;
}

/** Deletes settled deliveries made before a time. */
export async function retireDeliveries(session: Session, beforeMs: number, limit: number): Promise<number> {
  const { rowCount } = await session.query({
    name: 'retire-deliveries',
    text: `DELETE FROM delivery WHERE id IN (
      SELECT id FROM delivery WHERE state <> 'waiting' AND created < $1 ORDER BY created LIMIT $2)`,
    values: [Math.round(beforeMs), Math.max(0, Math.trunc(limit))],
  });
  return rowCount;
}

function toDelivery(row: Row): Delivery {
  return {
    id: row.id,
    destinationId: row.destination_id,
    machineId: row.machine_id,
    threadId: row.thread_id,
    subject: row.subject,
    body: row.body,
    text: row.plain,
    availableMs: row.available,
    state: row.state,
    createdMs: row.created,
    firstTriedMs: row.first_tried,
    sentMs: row.sent,
    attempts: row.attempts,
  };
}
