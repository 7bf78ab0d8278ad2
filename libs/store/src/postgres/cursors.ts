/** Positions of sources, each owned by one writer at a time. */

import { OperatingError } from '@warmbrick/runtime';
import type { CursorMove } from '../store.js';
import type { Session } from './database.js';

/** Takes a partition over: whoever held it before can no longer commit. Waits for a commit under way. */
export async function claim(
  session: Session,
  source: string,
  partition: number,
): Promise<{ nextOffset: number; epoch: number }> {
  const { rows } = await session.query({
    name: 'claim',
    text: `INSERT INTO ingest_cursor (source, "partition", next_offset, epoch) VALUES ($1, $2, 0, 1)
      ON CONFLICT (source, "partition") DO UPDATE SET epoch = ingest_cursor.epoch + 1
      RETURNING next_offset, epoch`,
    values: [source, partition],
  });
  return { nextOffset: rows[0]?.next_offset, epoch: rows[0]?.epoch };
}

/** Moves cursors in the order of their keys, so that owners of several partitions cannot lock each other out. */
export async function moveCursors(session: Session, moves: readonly CursorMove[]): Promise<void> {
  const ordered = [...moves].sort((a, b) =>
    a.source === b.source ? a.partition - b.partition : a.source < b.source ? -1 : 1,
  );
  for (const [place, move] of ordered.entries()) {
    const before = ordered[place - 1];
    if (before?.source !== move.source || before.partition !== move.partition) continue;
    throw new Error(`two cursors of ${move.source}/${move.partition} in one commit`);
  }
  for (const move of ordered) await moveCursor(session, move);
}

/**
 * Moves a cursor forward; the first statement of a commit, since its row lock lets one owner in at a time.
 *
 * Errors: OperatingError `fenced` when another owner has claimed the partition, `cursor-moved-back` for an offset
 * before the one that is committed.
 */
async function moveCursor(session: Session, move: CursorMove): Promise<void> {
  const key = [move.source, move.partition];
  const moved = await session.query({
    name: 'move-cursor',
    text: `UPDATE ingest_cursor SET next_offset = $4
      WHERE source = $1 AND "partition" = $2 AND epoch = $3 AND next_offset <= $4`,
    values: [...key, move.epoch, move.nextOffset],
  });
  if (moved.rowCount === 1) return;
  const { rows } = await session.query({
    text: 'SELECT epoch, next_offset FROM ingest_cursor WHERE source = $1 AND "partition" = $2',
    values: key,
  });
  const where = `source ${move.source}, partition ${move.partition}`;
  if (rows[0] !== undefined && rows[0].epoch === move.epoch) {
    throw new OperatingError(`Offset ${rows[0].next_offset} is committed; ${move.nextOffset} is before it.`, {
      code: 'cursor-moved-back',
      where,
      remedy: 'Claim the partition again and go on from the offset it gives.',
    });
  }
  throw new OperatingError(`Another writer has taken over (epoch ${rows[0]?.epoch ?? 'none'}, ours ${move.epoch}).`, {
    code: 'fenced',
    where,
    remedy: 'Drop the state of this partition; claim it again only if it is still assigned.',
  });
}
