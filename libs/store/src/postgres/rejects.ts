/** Rejected messages, each once by its place in its source. */

import type { Page, RejectedMessage, RejectPage, StoredReject } from '../store.js';
import { cutBytes } from './cut-bytes.js';
import type { Row, Session } from './database.js';
import { pageLimit, toPage } from './page.js';
import { decodeCursor } from './page-cursor.js';

/** Bytes kept of a payload. The same bound as the rejects topic has. */
const maxPayloadBytes = 64 * 1024;
/** Characters kept of a detail or key. Source: engineering judgement. */
const maxTextLength = 1000;

/** Adds rejects; one whose place is taken is there already. */
export async function addRejects(session: Session, rejects: readonly RejectedMessage[]): Promise<void> {
  if (rejects.length === 0) return;
  const payloads = cutBytes(rejects.map(({ payload }) => payload.subarray(0, maxPayloadBytes)));
  await session.query({
    name: 'add-rejects',
    text: `INSERT INTO reject (source, "partition", "offset", at, reason, detail, key, payload_bytes, payload)
      SELECT source, part, pos, at, reason, detail, key, whole, substring($11::bytea FROM first FOR size)
      FROM unnest($1::text[], $2::int4[], $3::int8[], $4::int8[], $5::text[], $6::text[], $7::text[], $8::int8[],
        $9::int4[], $10::int4[]) AS t(source, part, pos, at, reason, detail, key, whole, first, size)
      ON CONFLICT DO NOTHING`,
    values: [
      rejects.map((it) => storable(it.source)),
      rejects.map((it) => it.partition),
      rejects.map((it) => it.offset),
      rejects.map((it) => Math.round(it.atMs)),
      rejects.map((it) => storable(it.reason)),
      rejects.map((it) => storable(it.detail)),
      rejects.map((it) => (it.key === null ? null : storable(it.key))),
      rejects.map((it) => it.payload.length),
      payloads.firsts,
      payloads.sizes,
      payloads.bytes,
    ],
  });
}

/** PostgreSQL's text holds every character but one; a message that is broken anyway must not break the commit. */
function storable(text: string): string {
  return text.slice(0, maxTextLength).replaceAll('\u0000', '\ufffd');
}

const place = { at: 'number', source: 'string', partition: 'number', offset: 'number' } as const;
type Place = { at: number; source: string; partition: number; offset: number };

/** Rejects put aside within [fromMs, toMs), latest first; those of one time by their place. */
export async function listRejects(session: Session, page: RejectPage): Promise<Page<StoredReject>> {
  const limit = pageLimit(page.limit);
  const values: unknown[] = [limit + 1];
  const value = (it: unknown) => `$${values.push(it)}`;
  const conditions = ['true'];
  if (page.source !== undefined) conditions.push(`source = ${value(page.source)}`);
  if (page.fromMs !== undefined) conditions.push(`at >= ${value(Math.ceil(page.fromMs))}`);
  if (page.toMs !== undefined) conditions.push(`at < ${value(Math.ceil(page.toMs))}`);
  if (page.cursor !== undefined) {
    const last = decodeCursor<Place>(page.cursor, 'rejects', place);
    const at = value(last.at);
    const key = [last.source, last.partition, last.offset].map(value).join(', ');
    conditions.push(`at <= ${at} AND (at < ${at} OR (source, "partition", "offset") > (${key}))`);
  }
  const { rows } = await session.query({
    text: `SELECT source, "partition", "offset", at, reason, detail, key, payload, payload_bytes FROM reject
      WHERE ${conditions.join(' AND ')} ORDER BY at DESC, source, "partition", "offset" LIMIT $1`,
    values,
  });
  const toPosition = (row: Row) => ({ at: row.at, source: row.source, partition: row.partition, offset: row.offset });
  return toPage(rows, { list: 'rejects', limit, toItem: toReject, toPosition });
}

function toReject(row: Row): StoredReject {
  const { source, partition, offset, reason, detail, key, payload } = row;
  const kept = { source, partition, offset, reason, detail, key, payload, atMs: row.at };
  return { ...kept, payloadBytes: row.payload_bytes, isTruncated: row.payload_bytes > payload.length };
}
