/** Fault episodes: written as the log is folded, listed code by code or one by one. */

import { type FaultEpisode, faultKey } from '@warmbrick/analysis';
import {
  type EpisodeRange,
  episodesOfLine,
  type FaultLogLine,
  type FaultLogPage,
  type FaultLogSort,
} from '../fault-store.js';
import type { Page } from '../store.js';
import type { Row, Session } from './database.js';
import type { Mark } from './inquiry-due.js';
import { pageLimit, toPage } from './page.js';
import { decodeCursor } from './page-cursor.js';
import { wholeMs } from './whole-ms.js';

/** Episodes that one question answers with at most, the newest of them. Source: engineering judgement. */
const mostEpisodes = 20_000;
/** Stands for a controller that the source did not name. */
const noAddress = -1;

/**
 * Writes episodes as they now stand; an id seen before is replaced. Returns, for each machine that has any, the earliest start of
 * those that are new or end otherwise than before: that a code was seen once more is no news.
 */
export async function writeEpisodes(session: Session, episodes: readonly FaultEpisode[]): Promise<Mark[]> {
  if (episodes.length === 0) return [];
  const { rows } = await session.query({
    name: 'write-fault-episodes',
    text: `WITH t AS MATERIALIZED (
        SELECT * FROM unnest($1::text[], $2::text[], $3::int8[], $4::int8[], $5::int8[], $6::text[], $7::int2[], $8::int4[],
          $9::int2[], $10::text[]) AS t(machine_id, id, started, ended, last_seen, code, source_address, spn, fmi, body)),
      news AS MATERIALIZED (
        SELECT t.machine_id, t.started FROM t LEFT JOIN fault_episode f ON f.machine_id = t.machine_id AND f.id = t.id
        WHERE f.id IS NULL OR f.ended IS DISTINCT FROM t.ended),
      made AS (
        INSERT INTO fault_episode (machine_id, id, started, ended, last_seen, code, source_address, spn, fmi, body)
        SELECT machine_id, id, started, ended, last_seen, code, source_address, spn, fmi, body::json FROM t
        ON CONFLICT (machine_id, id) DO UPDATE
          SET ended = excluded.ended, last_seen = excluded.last_seen, body = excluded.body)
      SELECT machine_id, min(started) AS first FROM news GROUP BY machine_id`,
    values: [
      episodes.map((episode) => episode.machineId),
      episodes.map((episode) => episode.id),
      episodes.map((episode) => Math.floor(episode.startedMs)),
      episodes.map((episode) => (episode.endedMs === null ? null : Math.floor(episode.endedMs))),
      episodes.map((episode) => Math.floor(episode.lastSeenMs)),
      episodes.map((episode) => faultKey(episode)),
      episodes.map((episode) => episode.sourceAddress ?? noAddress),
      episodes.map((episode) => episode.spn),
      episodes.map((episode) => episode.fmi),
      episodes.map((episode) => JSON.stringify(episode)),
    ],
  });
  return rows.map((row) => ({ machineId: row.machine_id, fromMs: row.first }));
}

/** Ids and starts of a machine's episodes that began after a time. */
export async function episodesSince(
  session: Session,
  machineId: string,
  atMs: number,
): Promise<{ id: string; started: number }[]> {
  const { rows } = await session.query({
    name: 'fault-episodes-since',
    text: 'SELECT id, started FROM fault_episode WHERE machine_id = $1 AND started > $2',
    values: [machineId, Math.floor(atMs)],
  });
  return rows as { id: string; started: number }[];
}

/** Removes episodes that folding again no longer makes. */
export async function deleteEpisodes(session: Session, machineId: string, ids: readonly string[]): Promise<void> {
  if (ids.length === 0) return;
  const text = 'DELETE FROM fault_episode WHERE machine_id = $1 AND id = ANY($2::text[])';
  await session.query({ name: 'delete-fault-episodes', text, values: [machineId, ids] });
}

/** Episodes that reach into [fromMs, toMs), in order of their starts. */
export async function listFaultEpisodes(session: Session, range: EpisodeRange): Promise<FaultEpisode[]> {
  const { rows } = await session.query({
    name: 'list-fault-episodes',
    text: `SELECT body FROM fault_episode
      WHERE machine_id = $1 AND started < $3 AND (ended IS NULL OR ended >= $2 OR last_seen >= $2)
      ORDER BY started DESC, id DESC LIMIT ${mostEpisodes}`,
    values: [range.machineId, wholeMs(range.fromMs), wholeMs(range.toMs)],
  });
  return rows.map((row) => row.body as FaultEpisode).reverse();
}

/** Machines on which a fault is active, and those with an open finding about what that leads to. */
export async function machinesWithActiveFaults(session: Session): Promise<string[]> {
  const { rows } = await session.query({
    name: 'machines-with-active-faults',
    text: `SELECT machine_id FROM fault_episode WHERE ended IS NULL
      UNION SELECT machine_id FROM finding WHERE kind = 'inducement-step' AND ended IS NULL AND withdrawn_at IS NULL
      ORDER BY machine_id`,
  });
  return rows.map((row) => row.machine_id as string);
}

/** Number that the lines are ordered by, falling; and the cursor's name of the list. */
const orders: Readonly<Record<FaultLogSort, string>> = {
  // The controller counts further back than we have seen it.
  occurrence: 'greatest(occurrences, counted)',
  time: 'last_seen',
  first: '-started',
};
const position = { rank: 'number', later: 'number', code: 'string' } as const;
type Position = { rank: number; later: number; code: string };

/** The log of a machine: a line for each code of each controller. */
export async function listFaultLog(session: Session, page: FaultLogPage): Promise<Page<FaultLogLine>> {
  const limit = pageLimit(page.limit);
  const list = `fault-log-${page.sort}`;
  const values: unknown[] = [limit + 1, page.machineId];
  const value = (it: unknown) => `$${values.push(it)}`;
  const text = `WITH line AS (
      SELECT code, count(*)::int4 AS occurrences, min(started) AS started, max(last_seen) AS last_seen,
        bool_or(ended IS NULL) AS is_active, coalesce(max((body->>'reportedCount')::int4), 0) AS counted
      FROM fault_episode WHERE ${episodeConditions(page, value).join(' AND ')}
      GROUP BY code${reaching(page, value)}),
    ranked AS (SELECT line.*, ${orders[page.sort]}::int8 AS rank FROM line WHERE ${lineConditions(page, list, value)})
    SELECT ranked.*, (SELECT json_agg(e.body ORDER BY e.started DESC) FROM (
        SELECT body, started FROM fault_episode f WHERE f.machine_id = $2 AND f.code = ranked.code
        ORDER BY started DESC LIMIT ${episodesOfLine}) e) AS episodes
    FROM ranked ORDER BY rank DESC, last_seen DESC, code LIMIT $1`;
  const { rows } = await session.query({ text, values });
  const toPosition = (row: Row) => ({ rank: row.rank, later: row.last_seen, code: row.code });
  return toPage(rows, { list, limit, toItem: toLine, toPosition });
}

type Value = (it: unknown) => string;

function episodeConditions(page: FaultLogPage, value: Value): string[] {
  const conditions = ['machine_id = $2'];
  if (page.spn !== undefined) conditions.push(`spn = ${value(page.spn)}`);
  if (page.fmi !== undefined) conditions.push(`fmi = ${value(page.fmi)}`);
  if (page.sourceAddress !== undefined) conditions.push(`source_address = ${value(page.sourceAddress)}`);
  return conditions;
}

/** Codes of which an episode reaches into the asked time; the line still tells of all its episodes. */
function reaching({ fromMs, toMs }: FaultLogPage, value: Value): string {
  const conditions: string[] = [];
  if (fromMs !== undefined) {
    const from = value(wholeMs(fromMs));
    conditions.push(`(ended IS NULL OR ended >= ${from} OR last_seen >= ${from})`);
  }
  if (toMs !== undefined) conditions.push(`started < ${value(wholeMs(toMs))}`);
  return conditions.length === 0 ? '' : ` HAVING bool_or(${conditions.join(' AND ')})`;
}

function lineConditions(page: FaultLogPage, list: string, value: Value): string {
  const conditions = ['true'];
  if (page.isActive !== undefined) conditions.push(page.isActive ? 'is_active' : 'NOT is_active');
  if (page.cursor !== undefined) {
    const { rank, later, code } = decodeCursor<Position>(page.cursor, list, position);
    const [r, l, c] = [value(rank), value(later), value(code)];
    const key = orders[page.sort];
    conditions.push(`(${key} < ${r} OR (${key} = ${r} AND (last_seen < ${l} OR (last_seen = ${l} AND code > ${c}))))`);
  }
  return conditions.join(' AND ');
}

function toLine(row: Row): FaultLogLine {
  return {
    code: row.code,
    occurrences: row.occurrences,
    firstMs: row.started,
    lastSeenMs: row.last_seen,
    isActive: row.is_active,
    episodes: row.episodes,
  };
}
