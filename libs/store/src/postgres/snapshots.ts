/** The analyser's states: the newest to go on from, older ones to rewind to. */

import type { AnalyzerSnapshot } from '@warmbrick/analysis';
import type { MachineChange } from '../store.js';
import { cutBytes } from './cut-bytes.js';
import type { Session } from './database.js';

const dayMs = 86_400_000;

/**
 * Which kept snapshots stay, counted back from the machine's newest: all of the last day, then the first of each day.
 * A rewind further back re-runs a longer piece of the archive, with the same result. Source: engineering judgement:
 * a late upload is hours late as a rule.
 */
const keepAllMs = dayMs;
const keepDailyMs = 62 * dayMs;
/** How far back thinning looks, so that its cost does not grow with the history. */
const thinningReachMs = 3 * dayMs;

/** Writes the newest state of each machine. */
export async function writeStates(session: Session, changes: readonly MachineChange[]): Promise<void> {
  const seen = changes.flatMap(({ machineId, packed }) => {
    const state = packed?.state ?? null;
    return state === null ? [] : [{ machineId, state }];
  });
  if (seen.length === 0) return;
  const bodies = cutBytes(seen.map(({ state }) => state));
  await session.query({
    name: 'write-states',
    text: `INSERT INTO analyzer_state (machine_id, body)
      SELECT machine_id, convert_from(substring($4::bytea FROM first FOR size), 'UTF8')::json
      FROM unnest($1::text[], $2::int4[], $3::int4[]) AS t(machine_id, first, size)
      ON CONFLICT (machine_id) DO UPDATE SET body = excluded.body`,
    values: [seen.map(({ machineId }) => machineId), bodies.firsts, bodies.sizes, bodies.bytes],
  });
}

/** Drops the snapshots that a rewind makes void, adds the new ones and thins out old ones. */
export async function writeKeptSnapshots(session: Session, changes: readonly MachineChange[]): Promise<void> {
  const rewound = changes.filter((change) => change.rewoundToMs !== null);
  if (rewound.length > 0) {
    await session.query({
      name: 'void-snapshots',
      text: `DELETE FROM analyzer_snapshot s USING unnest($1::text[], $2::float8[]) AS t(machine_id, rewound_to)
        WHERE s.machine_id = t.machine_id AND s.at > t.rewound_to`,
      values: [rewound.map((change) => change.machineId), rewound.map((change) => change.rewoundToMs)],
    });
  }
  const kept = new Map<string, { machineId: string; atMs: number; body: Uint8Array }>();
  for (const { machineId, packed } of changes) {
    for (const { atMs, body } of packed?.keptStates ?? []) kept.set(`${atMs} ${machineId}`, { machineId, atMs, body });
  }
  if (kept.size === 0) return;
  const items = [...kept.values()];
  const bodies = cutBytes(items.map(({ body }) => body));
  await session.query({
    name: 'write-snapshots',
    text: `INSERT INTO analyzer_snapshot (machine_id, at, body)
      SELECT machine_id, at, convert_from(substring($5::bytea FROM first FOR size), 'UTF8')::json
      FROM unnest($1::text[], $2::int8[], $3::int4[], $4::int4[]) AS t(machine_id, at, first, size)
      ON CONFLICT (machine_id, at) DO UPDATE SET body = excluded.body`,
    values: [
      items.map(({ machineId }) => machineId),
      items.map(({ atMs }) => atMs),
      bodies.firsts,
      bodies.sizes,
      bodies.bytes,
    ],
  });
  await thinOut(session, [...new Set(items.map((item) => item.machineId))]);
}

async function thinOut(session: Session, machineIds: readonly string[]): Promise<void> {
  await session.query({
    name: 'thin-snapshots',
    text: `WITH newest AS (
        SELECT m.machine_id, (SELECT max(at) FROM analyzer_snapshot s WHERE s.machine_id = m.machine_id) AS at
        FROM unnest($1::text[]) AS m(machine_id)
      )
      DELETE FROM analyzer_snapshot s USING newest
      WHERE s.machine_id = newest.machine_id AND (
        s.at < newest.at - $2::int8
        OR s.at BETWEEN newest.at - $4::int8 AND newest.at - $3::int8 AND EXISTS (
          SELECT 1 FROM analyzer_snapshot k
          WHERE k.machine_id = s.machine_id AND k.at < s.at AND k.at >= s.at - s.at % ${dayMs}
        ))`,
    values: [machineIds, keepDailyMs, keepAllMs, thinningReachMs],
  });
}

/** The newest state of a machine; null for a machine never seen. */
export async function loadSnapshot(session: Session, machineId: string): Promise<AnalyzerSnapshot | null> {
  const text = 'SELECT body FROM analyzer_state WHERE machine_id = $1';
  const { rows } = await session.query({ name: 'load-state', text, values: [machineId] });
  return (rows[0]?.body as AnalyzerSnapshot | undefined) ?? null;
}

/** The kept snapshot at or before a time; null when there is none. */
export async function loadSnapshotBefore(
  session: Session,
  machineId: string,
  atMs: number,
): Promise<{ atMs: number; snapshot: AnalyzerSnapshot } | null> {
  const { rows } = await session.query({
    name: 'load-snapshot-before',
    text: 'SELECT at, body FROM analyzer_snapshot WHERE machine_id = $1 AND at <= $2 ORDER BY at DESC LIMIT 1',
    values: [machineId, Math.floor(atMs)],
  });
  return rows[0] === undefined ? null : { atMs: rows[0].at, snapshot: rows[0].body };
}
