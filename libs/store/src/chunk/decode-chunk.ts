/** Archived bytes back to a sample block. */

import { crc32, inflateSync } from 'node:zlib';
import { OperatingError } from '@warmbrick/runtime';
import { type ChannelName, type Column, createColumn, type SampleBlock } from '@warmbrick/signals';
import { type ByteReader, createByteReader, damagedChunk } from './byte-reader.js';
import {
  type ChannelLayout,
  chunkFormat,
  codecPlain,
  layoutById,
  maxBodyBytes,
  maxChunkSamples,
  timeKinds,
  valueKinds,
} from './chunk-layout.js';

/**
 * Unpacks a chunk made by `encodeChunk`, by this or an earlier version; `wanted` spares the other channels.
 *
 * Errors: OperatingError `damaged-chunk` on anything else; `chunk-too-new` when a later version wrote it. Never takes
 * more memory than an hour of samples needs.
 */
export function decodeChunk(bytes: Uint8Array, wanted?: readonly ChannelName[]): SampleBlock {
  return decodeChunks([bytes], wanted);
}

/**
 * Unpacks chunks of one machine that follow each other in time into one block, each straight to its place.
 *
 * Errors: as of `decodeChunk`.
 */
export function decodeChunks(chunks: readonly Uint8Array[], wanted?: readonly ChannelName[]): SampleBlock {
  const parts = chunks.map(openChunk);
  const length = parts.reduce((sum, part) => sum + part.count, 0);
  const timeMs = new Float64Array(length);
  const columns: Partial<Record<ChannelName, Column>> = {};
  let at = 0;
  for (const { reader, count } of parts) {
    readTimes(reader, timeMs.subarray(at, at + count));
    const channelCount = reader.unsigned();
    let lastId = 0;
    for (let i = 0; i < channelCount; i++) {
      const layout = readLayout(reader, lastId);
      lastId = layout.id;
      const isWanted = wanted === undefined || wanted.includes(layout.name);
      const column = columns[layout.name] ?? createColumn(layout.name, isWanted ? length : count);
      if (isWanted) columns[layout.name] = column;
      readColumn(reader, layout, isWanted ? column.subarray(at, at + count) : column);
    }
    if (reader.remaining() > 0) throw damagedChunk('there are bytes after its end');
    at += count;
  }
  return { machineId: parts[0]?.machineId ?? '', timeMs, channels: columns };
}

function openChunk(bytes: Uint8Array): { reader: ByteReader; machineId: string; count: number } {
  const reader = createByteReader(unpack(bytes));
  const machineId = readMachineId(reader);
  const count = reader.unsigned();
  if (count > maxChunkSamples) throw damagedChunk(`${count} samples are more than an hour has`);
  return { reader, machineId, count };
}

/** Whether a chunk was left unpacked. */
export function isPlainChunk(bytes: Uint8Array): boolean {
  return bytes[1] === codecPlain;
}

function unpack(bytes: Uint8Array): Uint8Array {
  const head = createByteReader(bytes);
  const format = head.unsigned();
  const codec = head.unsigned();
  if (format === 0 || codec === 0) throw damagedChunk('it does not start like one');
  if (format > chunkFormat || codec > codecPlain) {
    throw new OperatingError(
      `An archived chunk has format ${format} and codec ${codec}, which this version cannot read.`,
      {
        code: 'chunk-too-new',
        remedy: 'Update this program.',
      },
    );
  }
  const length = head.unsigned();
  if (length > maxBodyBytes) throw damagedChunk(`${length} bytes are too many`);
  const packed = head.bytes(head.unsigned());
  if (head.remaining() > 0) throw damagedChunk('there are bytes after its end');
  if (codec === codecPlain) return unwrap(packed, length);
  try {
    const body = inflateSync(packed, { maxOutputLength: Math.max(1, length) });
    if (body.length === length) return body;
  } catch (cause) {
    throw damagedChunk('it cannot be unpacked', cause);
  }
  throw damagedChunk('its length is wrong');
}

function unwrap(bytes: Uint8Array, length: number): Uint8Array {
  if (bytes.length !== length + 4) throw damagedChunk('its length is wrong');
  const body = bytes.subarray(0, length);
  const sum = new DataView(bytes.buffer, bytes.byteOffset + length, 4).getUint32(0);
  if (crc32(body) !== sum) throw damagedChunk('its checksum is wrong');
  return body;
}

function readMachineId(reader: ByteReader): string {
  const bytes = reader.bytes(reader.unsigned());
  try {
    return new TextDecoder('utf-8', { fatal: true, ignoreBOM: true }).decode(bytes);
  } catch (cause) {
    throw damagedChunk('the machine id is not UTF-8', cause);
  }
}

function readTimes(reader: ByteReader, timeMs: Float64Array): void {
  const kind = reader.unsigned();
  const count = timeMs.length;
  if (kind === timeKinds.raw) {
    readRaw(reader, timeMs);
  } else if (kind === timeKinds.wholeMs) {
    let last = 0;
    let step = 0;
    for (let i = 0; i < count; i++) {
      step += reader.signed();
      last += step;
      timeMs[i] = last;
      if (i === 0) step = 0;
    }
  } else {
    throw damagedChunk(`it has times of kind ${kind}`);
  }
  for (let i = 1; i < count; i++) {
    if (!((timeMs[i] as number) > (timeMs[i - 1] as number))) throw damagedChunk('its times do not rise');
  }
}

function readLayout(reader: ByteReader, lastId: number): ChannelLayout {
  const id = reader.unsigned();
  const layout = layoutById(id);
  if (layout !== undefined) return layout;
  if (id === 0 || id > 10_000 || id <= lastId) throw damagedChunk(`it has a channel ${id}`);
  throw new OperatingError(`An archived chunk has a channel ${id}, which this version does not know.`, {
    code: 'chunk-too-new',
    remedy: 'Update this program.',
  });
}

/** Fills a column that holds no values yet. */
function readColumn(reader: ByteReader, layout: ChannelLayout, column: Column): void {
  const kind = reader.unsigned();
  if (kind === valueKinds.raw) {
    readRaw(reader, column);
    return;
  }
  if (kind !== valueKinds.counts) throw damagedChunk(`it has values of kind ${kind}`);
  const runs = readRuns(reader, column.length);
  const { resolution, offset } = layout;
  let last = 0;
  let at = 0;
  for (let run = 0; run < runs.length; run++) {
    const end = at + (runs[run] as number);
    if (run % 2 === 0) last = reader.sums(column, { from: at, to: end, last, scale: resolution, offset });
    at = end;
  }
}

/** Lengths of the present and missing runs in turn; they add up to the number of samples. */
function readRuns(reader: ByteReader, count: number): number[] {
  const changes = reader.unsigned();
  if (changes > count) throw damagedChunk('it has more gaps than samples');
  const runs: number[] = [];
  let total = 0;
  for (let i = 0; i < changes; i++) {
    const run = reader.unsigned();
    runs.push(run);
    total += run;
  }
  if (total > count) throw damagedChunk('its gaps are longer than itself');
  runs.push(count - total);
  return runs;
}

function readRaw(reader: ByteReader, column: Column): void {
  const bytes = reader.bytes(column.length * column.BYTES_PER_ELEMENT);
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  for (let i = 0; i < column.length; i++) {
    column[i] = column instanceof Float64Array ? view.getFloat64(i * 8, true) : view.getFloat32(i * 4, true);
  }
}
