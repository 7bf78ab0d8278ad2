/** Sample blocks as archived bytes: integer counts, their differences, zigzag, varint, deflate. */

import { crc32, deflateSync } from 'node:zlib';
import { blockChannels, type Column, type SampleBlock } from '@warmbrick/signals';
import { type ByteWriter, createByteWriter, maxExactCount } from './byte-writer.js';
import {
  type ChannelLayout,
  chunkFormat,
  codecPlain,
  codecZlib,
  layoutOf,
  maxBodyBytes,
  maxChunkSamples,
  timeKinds,
  valueKinds,
} from './chunk-layout.js';

/** Deflate level. Source: the project's own measurement: higher levels save under 1 %. */
const deflateLevel = 1;

export interface EncodeOptions {
  /** Leaves the body as it is: half as large again, and several times faster to write and to read. Default false. */
  readonly isPlain?: boolean;
}

/**
 * Packs a block of one machine; `decodeChunk` gives it back bit for bit.
 *
 * Range: about 15 bytes a sample of 20 noisy channels; values off the channel's grid are kept too, at their full width.
 * Missing: NaN becomes a gap; what bits a NaN had is not kept.
 * Errors: throws on more samples than a chunk may hold, or an id of a machine longer than 1000 bytes (bugs of the caller).
 */
export function encodeChunk(block: SampleBlock, { isPlain = false }: EncodeOptions = {}): Uint8Array {
  const count = block.timeMs.length;
  if (count > maxChunkSamples) throw new Error(`${count} samples are too many for one chunk`);
  const names = blockChannels(block);
  const writer = createByteWriter(64 + count * (1 + 2 * names.length));
  const id = new TextEncoder().encode(block.machineId);
  if (id.length > 1000) throw new Error('the machine id is too long for a chunk');
  writer.unsigned(id.length);
  writer.bytes(id);
  writer.unsigned(count);
  writeTimes(writer, block.timeMs);
  writer.unsigned(names.length);
  const counts = countsOf(count);
  for (const name of names) writeColumn(writer, layoutOf(name), { column: block.channels[name] as Column, counts });
  return isPlain ? wrap(writer.finish()) : pack(writer.finish());
}

/** Room for the counts of a column, used again by every call. */
let spareCounts = new Float64Array(4096);

function countsOf(length: number): Float64Array {
  if (spareCounts.length < length) spareCounts = new Float64Array(length);
  return spareCounts;
}

/** The body as it is, with its checksum. */
function wrap(body: Uint8Array): Uint8Array {
  const writer = createByteWriter(body.length + 24);
  writer.unsigned(chunkFormat);
  writer.unsigned(codecPlain);
  writer.unsigned(body.length);
  writer.unsigned(body.length + 4);
  writer.bytes(body);
  const sum = new Uint8Array(4);
  new DataView(sum.buffer).setUint32(0, crc32(body));
  writer.bytes(sum);
  return writer.finish();
}

function pack(body: Uint8Array): Uint8Array {
  if (body.length > maxBodyBytes) throw new Error(`${body.length} bytes are too many for one chunk`);
  const packed = deflateSync(body, { level: deflateLevel });
  const writer = createByteWriter(packed.length + 16);
  writer.unsigned(chunkFormat);
  writer.unsigned(codecZlib);
  writer.unsigned(body.length);
  writer.unsigned(packed.length);
  writer.bytes(packed);
  return writer.finish();
}

/** Whole milliseconds go as differences of differences: a steady rhythm becomes zeros. */
function writeTimes(writer: ByteWriter, timeMs: Float64Array): void {
  const isWhole = isAllWhole(timeMs);
  writer.unsigned(isWhole ? timeKinds.wholeMs : timeKinds.raw);
  if (!isWhole) {
    writer.bytes(littleEndian(timeMs));
    return;
  }
  let last = 0;
  let lastStep = 0;
  for (let i = 0; i < timeMs.length; i++) {
    const step = (timeMs[i] as number) - last;
    writer.signed(step - lastStep);
    last += step;
    lastStep = i === 0 ? 0 : step;
  }
}

function isAllWhole(timeMs: Float64Array): boolean {
  for (let i = 0; i < timeMs.length; i++) {
    const time = timeMs[i] as number;
    if (Math.floor(time) !== time || !(time < maxExactCount / 4 && time > -maxExactCount / 4)) return false;
  }
  return true;
}

function writeColumn(
  writer: ByteWriter,
  layout: ChannelLayout,
  { column, counts }: { column: Column; counts: Float64Array },
): void {
  const present = toCounts(layout, column, counts);
  writer.unsigned(layout.id);
  writer.unsigned(present < 0 ? valueKinds.raw : valueKinds.counts);
  if (present < 0) {
    writer.bytes(littleEndian(layout.isWide ? Float64Array.from(column) : Float32Array.from(column)));
    return;
  }
  if (present === column.length) writer.unsigned(0);
  else writeGaps(writer, column);
  writer.differences(counts, present);
}

/** Fills `counts` with the counts of the values that are there and gives their number; -1 when one is off the grid. */
function toCounts({ resolution, offset, isWide }: ChannelLayout, column: Column, counts: Float64Array): number {
  const perUnit = 1 / resolution;
  let present = 0;
  for (let i = 0; i < column.length; i++) {
    const value = column[i] as number;
    if (value !== value) continue;
    // `Math.round` is several times slower; a value off the grid is found out below either way.
    const count = Math.floor((value - offset) * perUnit + 0.5);
    const wide = count * resolution + offset;
    const back = isWide ? wide : Math.fround(wide);
    // Negative zero would come back as zero.
    if (back !== value || (value === 0 && 1 / value < 0) || !(count < maxExactCount && count > -maxExactCount))
      return -1;
    counts[present++] = count;
  }
  return present;
}

/** Lengths of the runs of present and missing values in turn, present first; the last run is implied. */
function writeGaps(writer: ByteWriter, column: Column): void {
  const runs: number[] = [];
  let start = 0;
  let isPresent = true;
  for (let i = 0; i < column.length; i++) {
    const value = column[i] as number;
    if ((value === value) === isPresent) continue;
    runs.push(i - start);
    start = i;
    isPresent = !isPresent;
  }
  writer.unsigned(runs.length);
  for (const run of runs) writer.unsigned(run);
}

function littleEndian(column: Column): Uint8Array {
  const bytes = new Uint8Array(column.length * column.BYTES_PER_ELEMENT);
  const view = new DataView(bytes.buffer);
  for (let i = 0; i < column.length; i++) {
    if (column instanceof Float64Array) view.setFloat64(i * 8, column[i] as number, true);
    else view.setFloat32(i * 4, column[i] as number, true);
  }
  return bytes;
}
