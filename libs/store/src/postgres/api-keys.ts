/** API keys: what they may do, and what their secrets hash to. */

import type { ApiKey, KeySecret, NewApiKey } from '../access-store.js';
import type { Database, Row, Session } from './database.js';
import { nowSql } from './outbox.js';

/** Keys listed at most. Source: engineering judgement. */
const mostKeys = 1000;
/** A use is noted once in this time, in ms. */
const useGrainMs = 60_000;

const selectKeys = `SELECT k.key_id, k.name, k.role, k.fleets, k.created, k.created_by, k.expires, k.revoked, k.last_used,
    (SELECT json_agg(json_build_object('hash', encode(s.hash, 'hex'), 'hint', s.hint, 'made', s.made, 'until', s.until)
      ORDER BY s.made DESC, s.hash) FROM api_key_secret s WHERE s.key_id = k.key_id) AS secrets
  FROM api_key k`;

/** All keys, newest first. */
export async function listKeys(session: Session): Promise<ApiKey[]> {
  const { rows } = await session.query({
    text: `${selectKeys} ORDER BY k.created DESC, k.key_id LIMIT ${mostKeys}`,
  });
  return rows.map(toKey);
}

/** One key; null for an unknown one. */
export async function getKey(session: Session, keyId: string): Promise<ApiKey | null> {
  const { rows } = await session.query({
    name: 'get-key',
    text: `${selectKeys} WHERE k.key_id = $1`,
    values: [keyId],
  });
  return rows[0] === undefined ? null : toKey(rows[0]);
}

type Secret = Pick<KeySecret, 'hash' | 'hint'>;

/** Adds a key with its first secret. */
export async function addKey(database: Database, key: NewApiKey, secret: Secret): Promise<void> {
  await database.inTransaction(async (session) => {
    await session.query({
      text: `INSERT INTO api_key (key_id, name, role, fleets, created, created_by, expires)
        VALUES ($1, $2, $3, $4::text[], ${nowSql}, $5, $6)`,
      values: [key.keyId, key.name, key.role, key.fleets === 'all' ? null : key.fleets, key.createdBy, key.expiresMs],
    });
    await addSecret(session, key.keyId, secret);
  });
}

/** Gives a live key a new secret, and the one before it an end. */
export async function rotateKey(
  database: Database,
  change: { readonly keyId: string; readonly secret: Secret; readonly overlapMs: number },
): Promise<boolean> {
  const { keyId, secret, overlapMs } = change;
  return database.inTransaction(async (session) => {
    const { rowCount } = await session.query({
      text: `SELECT 1 FROM api_key WHERE key_id = $1 AND revoked IS NULL AND (expires IS NULL OR expires > ${nowSql}) FOR UPDATE`,
      values: [keyId],
    });
    if (rowCount === 0) return false;
    // Older ones than the last end at once: two are live at most.
    await session.query({
      text: 'DELETE FROM api_key_secret WHERE key_id = $1 AND until IS NOT NULL',
      values: [keyId],
    });
    await session.query({
      text: `UPDATE api_key_secret SET until = ${nowSql} + $2::int8 WHERE key_id = $1`,
      values: [keyId, Math.round(overlapMs)],
    });
    await addSecret(session, keyId, secret);
    return true;
  });
}

/** Ends a key for good; false when there is none that lives. */
export async function revokeKey(session: Session, keyId: string): Promise<boolean> {
  const { rowCount } = await session.query({
    text: `UPDATE api_key SET revoked = ${nowSql} WHERE key_id = $1 AND revoked IS NULL`,
    values: [keyId],
  });
  return rowCount === 1;
}

/** Notes that a key was used, to the minute. */
export async function noteKeyUse(session: Session, keyId: string): Promise<void> {
  await session.query({
    name: 'note-key-use',
    text: `UPDATE api_key SET last_used = ${nowSql}
      WHERE key_id = $1 AND (last_used IS NULL OR last_used < ${nowSql} - ${useGrainMs})`,
    values: [keyId],
  });
}

async function addSecret(session: Session, keyId: string, { hash, hint }: Secret): Promise<void> {
  await session.query({
    text: `INSERT INTO api_key_secret (key_id, hash, hint, made) VALUES ($1, $2, $3, ${nowSql})`,
    values: [keyId, Buffer.from(hash), hint],
  });
}

function toKey(row: Row): ApiKey {
  return {
    keyId: row.key_id,
    name: row.name,
    role: row.role,
    fleets: row.fleets ?? 'all',
    createdMs: row.created,
    createdBy: row.created_by,
    expiresMs: row.expires,
    revokedMs: row.revoked,
    lastUsedMs: row.last_used,
    secrets: ((row.secrets ?? []) as Row[]).map(({ hash, hint, made, until }) => ({
      hash: Buffer.from(hash, 'hex'),
      hint,
      madeMs: made,
      untilMs: until,
    })),
  };
}
