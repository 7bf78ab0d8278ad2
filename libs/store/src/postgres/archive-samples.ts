/**
 * Samples into the archive. The rule that keeps it cheap: samples later than all that an hour has become a chunk of
 * their own, with nothing read or rewritten. When an hour has many, the newest are put together as long as each is smaller
 * than all after it; when samples come late, all of the hour are, and when the machine goes on to the next hour, unless
 * they are few and packed already. So a sample is written three or four times however small the packets are, once or twice
 * when they are large, and no commit touches more than a few hours.
 */

import { mergeBlocks } from '@warmbrick/signals';
import { codecPlain } from '../chunk/chunk-layout.js';
import { decodeChunk, decodeChunks, isPlainChunk } from '../chunk/decode-chunk.js';
import { chunkSpanMs, hourOf } from '../chunk/split-by-hour.js';
import { packChunk } from '../pack-change.js';
import type { MachineChange, PackedChunk } from '../store.js';
import { cutBytes } from './cut-bytes.js';
import type { Database, Row, Session } from './database.js';

/** Chunks of one hour before some are put together. Source: the project's own measurement: more make reading slower. */
const maxChunksPerHour = 64;

/** Chunks that an hour may be left in when all of them are packed. Source: engineering judgement: they read as fast as one. */
const fewChunks = 4;

/** Bytes sent in one insert; more go in several. Source: engineering judgement. */
const maxInsertBytes = 16_000_000;

/** Machines whose hours `compact` puts together in one transaction. Source: engineering judgement. */
const machinesPerCompaction = 50;

interface Piece extends PackedChunk {
  readonly machineId: string;
}

type Hour = Pick<Piece, 'machineId' | 'hourMs'>;

interface Tail {
  count: number;
  lastMs: number;
}

/** A part of an hour, from a chunk's start to the hour's end, that becomes one chunk. */
interface Stretch extends Hour {
  readonly fromMs: number;
  /** Samples to add, as a chunk. */
  readonly bytes?: Uint8Array;
  /** Whether it will soon be put together again; null leaves it as its chunks were, so that a repetition changes nothing. */
  readonly isPlain: boolean | null;
}

/** Archives the samples of all packed changes. The caller has locked the machines' rows, so nobody else writes their chunks. */
export async function archiveSamples(session: Session, changes: readonly MachineChange[]): Promise<void> {
  const pieces = changes.flatMap(({ machineId, packed }) =>
    (packed?.chunks ?? []).map((chunk) => ({ machineId, ...chunk })),
  );
  if (pieces.length === 0) return;
  const tails = await readTails(session, pieces);
  const appended: Piece[] = [];
  const full: Piece[] = [];
  const late: Piece[] = [];
  for (const piece of pieces) {
    const tail = tails.get(keyOf(piece));
    if (tail !== undefined && piece.firstMs <= tail.lastMs) late.push(piece);
    else if (tail !== undefined && tail.count >= maxChunksPerHour) full.push(piece);
    else appended.push(piece);
  }
  await insertChunks(session, appended);
  await rewrite(session, [...(await newestStretches(session, full)), ...late.map(lateStretch)]);
  await closeHoursBefore(session, firstNewHours(pieces, tails));
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

/** For hours with many chunks: the newest ones, as long as each is smaller than all after it. */
async function newestStretches(session: Session, pieces: readonly Piece[]): Promise<Stretch[]> {
  if (pieces.length === 0) return [];
  const { rows } = await session.query({
    name: 'read-sizes',
    text: `SELECT c.machine_id, h.hour, c.t0, c.n FROM unnest($1::text[], $2::int8[]) AS h(machine_id, hour)
      JOIN sample_chunk c ON c.machine_id = h.machine_id AND c.t0 >= h.hour AND c.t0 < h.hour + ${chunkSpanMs}
      ORDER BY c.machine_id, c.t0 DESC`,
    values: hourValues(pieces),
  });
  const byHour = new Map<string, Row[]>();
  for (const row of rows) {
    const key = `${row.hour} ${row.machine_id}`;
    const others = byHour.get(key);
    if (others === undefined) byHour.set(key, [row]);
    else others.push(row);
  }
  return pieces.map((piece) => {
    const { machineId, hourMs, bytes } = piece;
    let { samples } = piece;
    let fromMs = Math.floor(piece.firstMs);
    // At least one chunk is taken, or the hour would have one more each time.
    for (const [place, row] of (byHour.get(keyOf(piece)) ?? []).entries()) {
      if (place > 0 && row.n >= samples) break;
      samples += row.n;
      fromMs = row.t0;
    }
    return { machineId, hourMs, bytes, fromMs, isPlain: true };
  });
}

function lateStretch(piece: Piece): Stretch {
  return { ...piece, fromMs: piece.hourMs, isPlain: null };
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
        SELECT c.t0 FROM sample_chunk c WHERE c.machine_id = h.machine_id AND c.t0 < h.hour ORDER BY c.t0 DESC LIMIT 1
      ) AS before FROM unnest($1::text[], $2::int8[]) AS h(machine_id, hour)`,
    values: hourValues(hours),
  });
  const before = rows
    .filter((row) => row.before !== null)
    .map((row) => ({ machineId: row.machine_id as string, hourMs: hourOf(row.before) }));
  await putTogether(session, before);
}

/** Makes one packed chunk of each hour that has many, or several of which some are not packed. */
async function putTogether(session: Session, hours: readonly Hour[]): Promise<number> {
  if (hours.length === 0) return 0;
  const { rows } = await session.query({
    name: 'find-loose-hours',
    // The second byte of a chunk is its codec; no more of it is read.
    text: `SELECT h.machine_id, h.hour FROM unnest($1::text[], $2::int8[]) AS h(machine_id, hour)
      JOIN sample_chunk c ON c.machine_id = h.machine_id AND c.t0 >= h.hour AND c.t0 < h.hour + ${chunkSpanMs}
      GROUP BY h.machine_id, h.hour
      HAVING count(*) > ${fewChunks}
        OR count(*) > 1 AND bool_or(substring(c.data FROM 2 FOR 1) = '\\x0${codecPlain}'::bytea)`,
    values: hourValues(hours),
  });
  const several = rows.map((row) => ({ machineId: row.machine_id as string, hourMs: row.hour as number }));
  await rewrite(
    session,
    several.map(({ machineId, hourMs }) => ({ machineId, hourMs, fromMs: hourMs, isPlain: false })),
  );
  return several.length;
}

/** Puts the last hours of machines that fell silent together. */
export async function compact(database: Database, beforeMs: number, limit: number): Promise<number> {
  const { rows } = await database.query({
    text: `SELECT m.machine_id, last.t0 FROM machine m
      CROSS JOIN LATERAL (
        SELECT c.t0 FROM sample_chunk c WHERE c.machine_id = m.machine_id ORDER BY c.t0 DESC LIMIT 1) AS last
      WHERE m.last_sample < $1 AND EXISTS (
        SELECT 1 FROM sample_chunk c WHERE c.machine_id = m.machine_id AND c.t0 < last.t0
          AND c.t0 >= last.t0 - last.t0 % ${chunkSpanMs})
      ORDER BY m.machine_id LIMIT $2`,
    values: [Math.floor(beforeMs), Math.max(0, Math.trunc(limit))],
  });
  const hours = rows.map((row) => ({ machineId: row.machine_id as string, hourMs: hourOf(row.t0) }));
  let done = 0;
  for (let from = 0; from < hours.length; from += machinesPerCompaction) {
    const some = hours.slice(from, from + machinesPerCompaction);
    done += await database.inTransaction(async (session) => {
      // In order of their ids, as commits lock them.
      await session.query({
        text: 'SELECT 1 FROM machine WHERE machine_id = ANY($1::text[]) ORDER BY machine_id FOR UPDATE',
        values: [some.map((hour) => hour.machineId)],
      });
      return putTogether(session, some);
    });
  }
  return done;
}

/** Takes the chunks of the stretches out, merges them with what is new, and writes one chunk a stretch. */
async function rewrite(session: Session, stretches: readonly Stretch[]): Promise<void> {
  if (stretches.length === 0) return;
  const taken = new Map<string, Row[]>();
  for (const row of await takeChunks(session, stretches)) {
    const key = `${hourOf(row.t0)} ${row.machine_id}`;
    const others = taken.get(key);
    if (others === undefined) taken.set(key, [row]);
    else others.push(row);
  }
  const pieces = stretches.map((stretch) => {
    const { machineId, hourMs, bytes } = stretch;
    const rows = (taken.get(keyOf(stretch)) ?? []).sort((a, b) => a.t0 - b.t0);
    const chunks = rows.map((row) => row.data as Uint8Array);
    const known = chunks.length === 0 ? [] : [decodeChunks(chunks)];
    const blocks = bytes === undefined ? known : [...known, decodeChunk(bytes)];
    const isPlain = stretch.isPlain ?? chunks.some(isPlainChunk);
    const [only] = blocks;
    const isOne = blocks.length === 1 && only !== undefined;
    const block = isOne ? only : mergeBlocks(machineId, blocks).block;
    return { machineId, ...packChunk(hourMs, block, isPlain) };
  });
  await insertChunks(session, pieces);
}

async function takeChunks(session: Session, stretches: readonly Stretch[]): Promise<Row[]> {
  const { rows } = await session.query({
    name: 'take-chunks',
    text: `DELETE FROM sample_chunk c USING unnest($1::text[], $2::int8[], $3::int8[]) AS h(machine_id, hour, first)
      WHERE c.machine_id = h.machine_id AND c.t0 >= h.first AND c.t0 < h.hour + ${chunkSpanMs}
      RETURNING c.machine_id, c.t0, c.data`,
    values: [...hourValues(stretches), stretches.map((stretch) => stretch.fromMs)],
  });
  return rows;
}

async function insertChunks(session: Session, pieces: readonly Piece[]): Promise<void> {
  let batch: Piece[] = [];
  let size = 0;
  for (const piece of pieces) {
    batch.push(piece);
    size += piece.bytes.length;
    if (size < maxInsertBytes) continue;
    await insertBatch(session, batch);
    batch = [];
    size = 0;
  }
  if (batch.length > 0) await insertBatch(session, batch);
}

async function insertBatch(session: Session, batch: readonly Piece[]): Promise<void> {
  const chunks = cutBytes(batch.map(({ bytes }) => bytes));
  await session.query({
    name: 'insert-chunks',
    text: `INSERT INTO sample_chunk (machine_id, t0, t1, n, data)
      SELECT machine_id, t0, t1, n, substring($7::bytea FROM first FOR size)
      FROM unnest($1::text[], $2::int8[], $3::int8[], $4::int4[], $5::int4[], $6::int4[])
        AS t(machine_id, t0, t1, n, first, size)`,
    values: [
      batch.map(({ machineId }) => machineId),
      batch.map(({ firstMs }) => Math.floor(firstMs)),
      batch.map(({ lastMs }) => Math.ceil(lastMs)),
      batch.map(({ samples }) => samples),
      chunks.firsts,
      chunks.sizes,
      chunks.bytes,
    ],
  });
}

function hourValues(hours: readonly Hour[]): unknown[] {
  return [hours.map((hour) => hour.machineId), hours.map((hour) => hour.hourMs)];
}

function keyOf(hour: Hour): string {
  return `${hour.hourMs} ${hour.machineId}`;
}
