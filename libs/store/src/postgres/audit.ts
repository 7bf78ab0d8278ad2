/** The audit log: appended to, read, and checked. */

import type { AuditEntry, AuditPage, NewAuditEntry } from '../access-store.js';
import type { Page } from '../store.js';
import type { Row, Session } from './database.js';
import { pageLimit, toPage } from './page.js';
import { decodeCursor } from './page-cursor.js';

/** Characters kept of each text of an entry. Source: engineering judgement. */
const longestText = 200;
const longestDetail = 4000;

/** Appends an entry; number, time and hash are the database's. */
export async function appendAudit(session: Session, entry: NewAuditEntry): Promise<void> {
  await session.query({
    name: 'append-audit',
    text: `INSERT INTO audit_entry (number, at, actor_id, actor_name, action, target, fleet_id, detail, previous, hash)
      VALUES (0, 0, $1, $2, $3, $4, $5, $6, '', '')`,
    values: [
      storable(entry.actorId, longestText),
      storable(entry.actorName, longestText),
      storable(entry.action, longestText),
      storable(entry.target, longestText),
      entry.fleetId,
      storable(entry.detail, longestDetail),
    ],
  });
}

/** PostgreSQL's text holds every character but one, and no half of a surrogate pair. */
function storable(text: string, longest: number): string {
  return Buffer.from(text.slice(0, longest).replaceAll('\u0000', '\ufffd')).toString();
}

/** Entries, newest first. */
export async function listAudit(session: Session, page: AuditPage): Promise<Page<AuditEntry>> {
  const limit = pageLimit(page.limit);
  const values: unknown[] = [limit + 1];
  const value = (it: unknown) => `$${values.push(it)}`;
  const conditions = ['true'];
  if (page.actorId !== undefined) conditions.push(`actor_id = ${value(page.actorId)}`);
  if (page.fromMs !== undefined) conditions.push(`at >= ${value(Math.ceil(page.fromMs))}`);
  if (page.toMs !== undefined) conditions.push(`at < ${value(Math.ceil(page.toMs))}`);
  if (page.cursor !== undefined) {
    const last = decodeCursor<{ number: number }>(page.cursor, 'audit', { number: 'number' });
    conditions.push(`number < ${value(last.number)}`);
  }
  const { rows } = await session.query({
    text: `SELECT number, at, actor_id, actor_name, action, target, fleet_id, detail, hash FROM audit_entry
      WHERE ${conditions.join(' AND ')} ORDER BY number DESC LIMIT $1`,
    values,
  });
  return toPage(rows, { list: 'audit', limit, toItem: toEntry, toPosition: (row) => ({ number: row.number }) });
}

/** Computes the chain anew and says where it breaks first. */
export async function checkAudit(session: Session): Promise<{ entries: number; brokenAt: number | null }> {
  const { rows } = await session.query({
    text: `WITH chained AS (SELECT *, lag(hash, 1, '\\x'::bytea) OVER (ORDER BY number) AS before,
        row_number() OVER (ORDER BY number) AS place FROM audit_entry)
      SELECT count(*)::int8 AS entries, min(place) FILTER (WHERE number <> place OR previous <> before OR hash <> sha256(
        previous || convert_to(jsonb_build_array(number, at, actor_id, actor_name, action, target, fleet_id, detail)::text, 'UTF8')))
        AS broken FROM chained`,
  });
  return { entries: rows[0]?.entries ?? 0, brokenAt: rows[0]?.broken ?? null };
}

function toEntry(row: Row): AuditEntry {
  return {
    number: row.number,
    atMs: row.at,
    actorId: row.actor_id,
    actorName: row.actor_name,
    action: row.action,
    target: row.target,
    fleetId: row.fleet_id,
    detail: row.detail,
    hash: row.hash,
  };
}
