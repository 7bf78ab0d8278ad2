/** Bringing a database up to the code's own step. */

import { createHash } from 'node:crypto';
import { OperatingError } from '@warmbrick/runtime';
import type { Database, Session } from './database.js';
import { type Migration, migrations } from './migrations.js';

/** Key of the advisory lock that one migrating process holds. Any number that nothing else uses. */
const lockKey = 7_269_141_550;

/**
 * Applies the steps that a database lacks, each in a transaction of its own; processes that start together take turns.
 *
 * Errors: OperatingError `store-too-new` for a database that later code has changed, `store-step-changed` when a step
 * is not the one that was applied.
 */
export async function migrate(database: Database, steps: readonly Migration[] = migrations): Promise<void> {
  for (;;) {
    const isDone = await database.inTransaction((session) => applyNext(session, steps));
    if (isDone) return;
  }
}

async function applyNext(session: Session, steps: readonly Migration[]): Promise<boolean> {
  await session.query({ text: `SET LOCAL statement_timeout = 0` });
  await session.query({ text: 'SELECT pg_advisory_xact_lock($1)', values: [lockKey] });
  await session.query({
    text: `CREATE TABLE IF NOT EXISTS schema_step
      (number int4 PRIMARY KEY, title text NOT NULL, checksum text NOT NULL, applied_at timestamptz NOT NULL DEFAULT now())`,
  });
  const { rows } = await session.query({ text: 'SELECT number, checksum FROM schema_step ORDER BY number' });
  check(rows as { number: number; checksum: string }[], steps);
  const next = steps[rows.length];
  if (next === undefined) return true;
  await session.query({ text: next.sql });
  await session.query({
    text: 'INSERT INTO schema_step (number, title, checksum) VALUES ($1, $2, $3)',
    values: [next.number, next.title, checksum(next)],
  });
  return steps.length === rows.length + 1;
}

function check(applied: readonly { number: number; checksum: string }[], steps: readonly Migration[]): void {
  if (applied.length > steps.length) {
    throw new OperatingError(
      `The database is at step ${applied.length}, and this program knows steps up to ${steps.length}.`,
      { code: 'store-too-new', remedy: 'Update this program; it must not write to a newer database.' },
    );
  }
  for (const [place, row] of applied.entries()) {
    const step = steps[place];
    if (step !== undefined && step.number === row.number && checksum(step) === row.checksum) continue;
    throw new OperatingError(`Step ${row.number} of the database is not the one this program has.`, {
      code: 'store-step-changed',
      remedy: 'Use the release that made this database, or a fresh database.',
    });
  }
}

function checksum(step: Migration): string {
  return createHash('sha256').update(step.sql).digest('hex');
}
