/**
 * Samples into the archive. The rule that keeps it cheap: samples later than all that an hour has become a chunk of
 * their own, with nothing read or rewritten; chunks of an hour are put together when they are many, when samples come
 * late, and when the machine goes on to the next hour. So no commit touches more than a few hours of a machine.
 */

import { mergeBlocks, type SampleBlock } from '@warmbrick/signals';
import { decodeChunk } from '../chunk/decode-chunk.js';
import { encodeChunk } from '../chunk/encode-chunk.js';
import { chunkSpanMs, hourOf, splitByHour } from '../chunk/split-by-hour.js';
import type { MachineChange } from '../store.js';
import type { Row, Session } from './database.js';

/** Chunks of one hour before they are put together. Source: engineering judgement: each sample is packed 3 to 4 times. */
const maxChunksPerHour = 16;

/** Bytes sent in one insert; more go in several. Source: engineering judgement. */
const maxInsertBytes = 16_000_000;

interface Piece {
  readonly machineId: string;
  readonly hourMs: number;
  readonly block: SampleBlock;
}

type Hour = Pick<Piece, 'machineId' | 'hourMs'>;

interface Tail {
  count: number;
  lastMs: number;
}

/** Archives the samples of all changes. The caller has locked the machines' rows, so nobody else writes their chunks. */
export async function archiveSamples(session: Session, changes: readonly MachineChange[]): Promise<void> {
  const pieces = changes.flatMap(toPieces);
  if (pieces.length === 0) return;
  const tails = await readTails(session, pieces);
  const appended = pieces.filter((piece) => isAppend(piece, tails.get(keyOf(piece))));
  const merged = pieces.filter((piece) => !appended.includes(piece));
  await insertChunks(session, appended);
  await rewriteHours(session, merged);
  await closeHoursBefore(session, firstNewHours(pieces, tails));
}

function toPieces(change: MachineChange): Piece[] {
  const blocks = change.samples.filter((block) => block.timeMs.length > 0);
  if (blocks.length === 0) return [];
  const whole = blocks.length === 1 ? (blocks[0] as SampleBlock) : mergeBlocks(change.machineId, blocks).block;
  return splitByHour(whole).map((piece) => ({ machineId: change.machineId, ...piece }));
}

/** What each hour has already, without reading the chunks themselves. */
async function readTails(session: Session, hours: readonly Hour[]): Promise<Map<string, Tail>> {
  const { rows } = await session.query({
    name: 'read-tails',
    text: `SELECT h.machine_id, h.hour, count(*)::int4 AS n, max(c.t1) AS last
      FROM unnest($1::text[], $2::int8[]) AS h(machine_id, hour)
      JOIN sample_chunk c ON c.machine_id = h.machine_id AND c.t0 >= h.hour AND c.t0 < h.hour + ${chunkSpanMs}
      GROUP BY h.machine_id, h.hour`,
    values: hourValues(hours),
  });
  return new Map(rows.map((row) => [`${row.hour} ${row.machine_id}`, { count: row.n, lastMs: row.last }]));
}

function isAppend(piece: Piece, tail: Tail | undefined): boolean {
  if (tail === undefined) return true;
  return (piece.block.timeMs[0] as number) > tail.lastMs && tail.count < maxChunksPerHour;
}

/** The earliest hour of each machine that had no chunk yet: its machine has gone on from an earlier hour. */
function firstNewHours(pieces: readonly Piece[], tails: Map<string, Tail>): Hour[] {
  const first = new Map<string, Hour>();
  for (const piece of pieces) {
    if (!tails.has(keyOf(piece)) && !first.has(piece.machineId)) first.set(piece.machineId, piece);
  }
  return [...first.values()];
}

/** Puts the chunks of the last hour before each given one together. */
async function closeHoursBefore(session: Session, hours: readonly Hour[]): Promise<void> {
  if (hours.length === 0) return;
  const { rows } = await session.query({
    name: 'find-hours-before',
    text: `SELECT h.machine_id, (
        SELECT max(c.t0) FROM sample_chunk c WHERE c.machine_id = h.machine_id AND c.t0 < h.hour
      ) AS before FROM unnest($1::text[], $2::int8[]) AS h(machine_id, hour)`,
    values: hourValues(hours),
  });
  const before = rows
    .filter((row) => row.before !== null)
    .map((row) => ({ machineId: row.machine_id as string, hourMs: hourOf(row.before) }));
  if (before.length === 0) return;
  const tails = await readTails(session, before);
  await rewriteHours(
    session,
    before.filter((hour) => (tails.get(keyOf(hour))?.count ?? 0) > 1),
  );
}

/** Reads all chunks of the hours, merges them with what is new, and writes one chunk an hour. */
async function rewriteHours(session: Session, hours: readonly (Hour & { block?: SampleBlock })[]): Promise<void> {
  if (hours.length === 0) return;
  const blocks = new Map<string, SampleBlock[]>();
  for (const row of await takeChunks(session, hours)) {
    const key = `${hourOf(row.t0)} ${row.machine_id}`;
    blocks.set(key, [...(blocks.get(key) ?? []), decodeChunk(row.data)]);
  }
  const pieces = hours.map((hour) => {
    const all = [...(blocks.get(keyOf(hour)) ?? []), ...(hour.block === undefined ? [] : [hour.block])];
    return { machineId: hour.machineId, hourMs: hour.hourMs, block: mergeBlocks(hour.machineId, all).block };
  });
  await insertChunks(session, pieces);
}

async function takeChunks(session: Session, hours: readonly Hour[]): Promise<Row[]> {
  const { rows } = await session.query({
    name: 'take-chunks',
    text: `DELETE FROM sample_chunk c USING unnest($1::text[], $2::int8[]) AS h(machine_id, hour)
      WHERE c.machine_id = h.machine_id AND c.t0 >= h.hour AND c.t0 < h.hour + ${chunkSpanMs}
      RETURNING c.machine_id, c.t0, c.data`,
    values: hourValues(hours),
  });
  return rows;
}

async function insertChunks(session: Session, pieces: readonly Piece[]): Promise<void> {
  let batch: { piece: Piece; bytes: Uint8Array }[] = [];
  let size = 0;
  for (const piece of pieces) {
    const bytes = encodeChunk(piece.block);
    batch.push({ piece, bytes });
    size += bytes.length;
    if (size < maxInsertBytes) continue;
    await insertBatch(session, batch);
    batch = [];
    size = 0;
  }
  if (batch.length > 0) await insertBatch(session, batch);
}

/** All chunks go as one binary value that the server cuts up: arrays of bytes would travel as text. */
async function insertBatch(session: Session, batch: readonly { piece: Piece; bytes: Uint8Array }[]): Promise<void> {
  let start = 1;
  const starts: number[] = [];
  for (const { bytes } of batch) {
    starts.push(start);
    start += bytes.length;
  }
  await session.query({
    name: 'insert-chunks',
    text: `INSERT INTO sample_chunk (machine_id, t0, t1, n, data)
      SELECT machine_id, t0, t1, n, substring($7::bytea FROM first FOR size)
      FROM unnest($1::text[], $2::int8[], $3::int8[], $4::int4[], $5::int4[], $6::int4[])
        AS t(machine_id, t0, t1, n, first, size)`,
    values: [
      batch.map(({ piece }) => piece.machineId),
      batch.map(({ piece }) => Math.floor(piece.block.timeMs[0] as number)),
      batch.map(({ piece }) => Math.ceil(piece.block.timeMs.at(-1) as number)),
      batch.map(({ piece }) => piece.block.timeMs.length),
      starts,
      batch.map(({ bytes }) => bytes.length),
      Buffer.concat(batch.map(({ bytes }) => bytes)),
    ],
  });
}

function hourValues(hours: readonly Hour[]): unknown[] {
  return [hours.map((hour) => hour.machineId), hours.map((hour) => hour.hourMs)];
}

function keyOf(hour: Hour): string {
  return `${hour.hourMs} ${hour.machineId}`;
}
