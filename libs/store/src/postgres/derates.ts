/** Derates and the answers about their origin; an answer that changes is a new revision beside the old ones. */

import { createHash } from 'node:crypto';
import { type DerateEpisode, type InquiryRevision, maxRevisions, reviseInquiry } from '@warmbrick/analysis';
import type { DeratePage, DerateUpdate, NewInquiry, StoredDerate } from '../fault-store.js';
import type { Page } from '../store.js';
import type { Database, Row, Session } from './database.js';
import { nowSql } from './outbox.js';
import { pageLimit, toPage } from './page.js';
import { decodeCursor } from './page-cursor.js';

const latestColumns =
  'd.machine_id, d.id, d.started, d.withdrawn_at, d.body, q.revision, q.made_at, q.changes, q.body AS inquiry';
const latestJoin = `LEFT JOIN LATERAL (SELECT revision, made_at, changes, body FROM derate_inquiry q
  WHERE q.machine_id = d.machine_id AND q.derate_id = d.id ORDER BY revision DESC LIMIT 1) q ON true`;
const position = { started: 'number', id: 'string' } as const;

/** Derates of a machine that reach into [fromMs, toMs), newest first. */
export async function listDerates(session: Session, page: DeratePage): Promise<Page<StoredDerate>> {
  const limit = pageLimit(page.limit);
  const values: unknown[] = [limit + 1, page.machineId];
  const value = (it: unknown) => `$${values.push(it)}`;
  const conditions = ['d.machine_id = $2', 'd.withdrawn_at IS NULL'];
  if (page.fromMs !== undefined) conditions.push(`(d.ended IS NULL OR d.ended >= ${value(Math.ceil(page.fromMs))})`);
  if (page.toMs !== undefined) conditions.push(`d.started < ${value(Math.ceil(page.toMs))}`);
  if (page.cursor !== undefined) {
    const { started, id } = decodeCursor<{ started: number; id: string }>(page.cursor, 'derates', position);
    const at = value(started);
    conditions.push(`d.started <= ${at} AND (d.started < ${at} OR d.id > ${value(id)})`);
  }
  const { rows } = await session.query({
    text: `SELECT ${latestColumns} FROM derate d ${latestJoin}
      WHERE ${conditions.join(' AND ')} ORDER BY d.started DESC, d.id LIMIT $1`,
    values,
  });
  const toPosition = (row: Row) => ({ started: row.started, id: row.id });
  return toPage(rows, { list: 'derates', limit, toItem: toDerate, toPosition });
}

/** One derate; null when there never was one of this id. */
export async function getDerate(
  session: Session,
  derateId: string,
): Promise<(StoredDerate & { readonly isWithdrawn: boolean }) | null> {
  const { rows } = await session.query({
    name: 'get-derate',
    text: `SELECT ${latestColumns} FROM derate d ${latestJoin} WHERE d.id = $1`,
    values: [derateId],
  });
  return rows[0] === undefined ? null : { ...toDerate(rows[0]), isWithdrawn: rows[0].withdrawn_at !== null };
}

/** Every answer about a derate, the first first. */
export async function listInquiries(session: Session, derateId: string): Promise<InquiryRevision[]> {
  const { rows } = await session.query({
    name: 'list-inquiries',
    text: `SELECT revision, made_at, body AS inquiry, changes FROM derate_inquiry
      WHERE machine_id = (SELECT machine_id FROM derate WHERE id = $1) AND derate_id = $1 ORDER BY revision`,
    values: [derateId],
  });
  return rows.map(toRevision);
}

/** Stores derates and answers in one transaction; an answer that differs in nothing that matters is no revision. */
export async function updateDerates(database: Database, update: DerateUpdate): Promise<{ revisions: number }> {
  return database.inTransaction(async (session) => {
    await writeDerates(session, update.derates);
    if (update.withdrawnIds.length > 0) {
      await session.query({
        name: 'withdraw-derates',
        text: `UPDATE derate SET withdrawn_at = ${nowSql}
          WHERE machine_id = $1 AND id = ANY($2::text[]) AND withdrawn_at IS NULL`,
        values: [update.machineId, update.withdrawnIds],
      });
    }
    let revisions = 0;
    for (const answer of update.inquiries) if (await addRevision(session, answer)) revisions++;
    return { revisions };
  });
}

async function writeDerates(session: Session, derates: readonly DerateEpisode[]): Promise<void> {
  if (derates.length === 0) return;
  await session.query({
    name: 'write-derates',
    text: `INSERT INTO derate (machine_id, id, started, ended, body)
      SELECT machine_id, id, started, ended, body::json
      FROM unnest($1::text[], $2::text[], $3::int8[], $4::int8[], $5::text[]) AS t(machine_id, id, started, ended, body)
      ON CONFLICT (machine_id, id) DO UPDATE SET ended = excluded.ended, body = excluded.body, withdrawn_at = NULL`,
    values: [
      derates.map(({ machineId }) => machineId),
      derates.map(({ id }) => id),
      derates.map(({ startedMs }) => Math.floor(startedMs)),
      derates.map(({ endedMs }) => (endedMs === null ? null : Math.floor(endedMs))),
      derates.map((derate) => JSON.stringify(derate)),
    ],
  });
}

async function addRevision(session: Session, { inquiry, madeMs }: NewInquiry): Promise<boolean> {
  const { machineId, derateId } = inquiry;
  const { rows } = await session.query({
    name: 'last-inquiry',
    text: `SELECT revision, made_at, digest, body AS inquiry, changes FROM derate_inquiry
      WHERE machine_id = $1 AND derate_id = $2 ORDER BY revision DESC LIMIT 1`,
    values: [machineId, derateId],
  });
  const [last] = rows;
  const body = JSON.stringify(inquiry);
  const digest = createHash('sha256').update(body).digest('hex');
  if (last?.digest === digest) return false;
  const next = reviseInquiry(last === undefined ? [] : [toRevision(last)], inquiry, madeMs).at(-1);
  const isNew = next !== undefined && next.revision !== last?.revision;
  const revision = isNew ? next.revision : last?.revision;
  await session.query({
    name: 'write-inquiry',
    text: `INSERT INTO derate_inquiry (machine_id, derate_id, revision, made_at, digest, body, changes)
      VALUES ($1, $2, $3, $4, $5, $6, $7)
      ON CONFLICT (machine_id, derate_id, revision) DO UPDATE SET digest = excluded.digest, body = excluded.body`,
    values: [machineId, derateId, revision, madeMs, digest, body, JSON.stringify(next?.changes ?? [])],
  });
  if (!isNew) return false;
  // The first answer stays whatever happens, and the newest.
  await session.query({
    name: 'thin-inquiries',
    text: 'DELETE FROM derate_inquiry WHERE machine_id = $1 AND derate_id = $2 AND revision > 1 AND revision <= $3',
    values: [machineId, derateId, next.revision - (maxRevisions - 1)],
  });
  return true;
}

function toDerate(row: Row): StoredDerate {
  return { derate: row.body, latest: row.inquiry === null ? null : toRevision(row) };
}

function toRevision(row: Row): InquiryRevision {
  return { revision: row.revision, madeMs: row.made_at, inquiry: row.inquiry, changes: row.changes };
}
