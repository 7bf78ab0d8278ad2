/** The score of each machine and day, and the days of the archive. */

import type { ArchivedDay, ArchivePage, ScoreDay, ScoreStore } from '../score-store.js';
import type { MachineChange, Page } from '../store.js';
import type { Database, Session } from './database.js';
import { pageLimit, toPage } from './page.js';
import { decodeCursor } from './page-cursor.js';

const dayMs = 86_400_000;
/** Days given at once, whatever is asked for: two years. */
const mostDays = 800;

/**
 * Keeps each machine's score for the day of its last sample. A later sample of the day replaces what an earlier one said; a
 * re-run replaces the day that it ends on.
 */
export async function writeScoreDays(session: Session, changes: readonly MachineChange[]): Promise<void> {
  const scored = changes.flatMap(({ machineId, summary, snapshot }) => {
    const score = summary?.score ?? null;
    const thresholdSet = snapshot?.thresholdSet ?? '';
    return summary === null || score === null ? [] : [{ machineId, score, thresholdSet, atMs: summary.observed.toMs }];
  });
  if (scored.length === 0) return;
  await session.query({
    name: 'write-score-days',
    text: `INSERT INTO score_day (machine_id, day, at, value, confidence, threshold_set, parts)
      SELECT machine_id, day, at, value, confidence, threshold_set, parts::json
      FROM unnest($1::text[], $2::int8[], $3::int8[], $4::float8[], $5::float8[], $6::text[], $7::text[])
        AS t(machine_id, day, at, value, confidence, threshold_set, parts)
      ON CONFLICT (machine_id, day) DO UPDATE SET at = excluded.at, value = excluded.value,
        confidence = excluded.confidence, threshold_set = excluded.threshold_set, parts = excluded.parts
      WHERE excluded.at >= score_day.at`,
    values: [
      scored.map((it) => it.machineId),
      scored.map((it) => Math.floor(it.atMs / dayMs) * dayMs),
      scored.map((it) => Math.floor(it.atMs)),
      scored.map((it) => it.score.value),
      scored.map((it) => it.score.confidence),
      scored.map((it) => it.thresholdSet),
      scored.map((it) => JSON.stringify(it.score.parts)),
    ],
  });
}

/** Binds this part of the store to a database. */
export function scorePart(database: Database): ScoreStore {
  return {
    listScoreDays: (range) => listScoreDays(database, range),
    listArchivedDays: (page) => listArchivedDays(database, page),
  };
}

async function listScoreDays(
  session: Session,
  range: { readonly machineId: string; readonly fromMs: number; readonly toMs: number },
): Promise<ScoreDay[]> {
  const { rows } = await session.query({
    name: 'list-score-days',
    text: `SELECT day, at, value, confidence, threshold_set, parts FROM score_day
      WHERE machine_id = $1 AND day >= $2 AND day < $3 ORDER BY day LIMIT ${mostDays}`,
    values: [range.machineId, Math.ceil(range.fromMs), Math.ceil(range.toMs)],
  });
  return rows.map((row) => ({
    dayMs: row.day,
    atMs: row.at,
    value: row.value,
    confidence: row.confidence,
    parts: row.parts,
    thresholdSet: row.threshold_set,
  }));
}

async function listArchivedDays(session: Session, page: ArchivePage): Promise<Page<ArchivedDay>> {
  const limit = pageLimit(page.limit);
  const values: unknown[] = [limit + 1, page.machineId];
  let before = '';
  if (page.cursor !== undefined) {
    const { day } = decodeCursor<{ day: number }>(page.cursor, 'archive', { day: 'number' });
    before = `AND t0 < $${values.push(day)}`;
  }
  const { rows } = await session.query({
    text: `SELECT t0 / ${dayMs} * ${dayMs} AS day, min(t0) AS first, max(t1) AS last, sum(n)::int8 AS samples
      FROM sample_chunk WHERE machine_id = $2 ${before} GROUP BY 1 ORDER BY 1 DESC LIMIT $1`,
    values,
  });
  return toPage(rows, {
    list: 'archive',
    limit,
    toItem: (row) => ({ dayMs: row.day, fromMs: row.first, toMs: row.last, samples: row.samples }),
    toPosition: (row) => ({ day: row.day }),
  });
}
