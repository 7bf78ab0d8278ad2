/** Putting samples in order: duplicates become one sample, whatever order they came in. */

import { type ChannelName, channelNames, isWideChannel } from './channels.js';
import { type Column, createColumn, type SampleBlock } from './sample-block.js';

export interface MergedBlock {
  readonly block: SampleBlock;
  /** Samples that were there already, and those of them that said something else. */
  readonly duplicates: number;
  readonly conflicts: number;
}

/**
 * One block out of blocks of the same machine, in any order and with any overlap.
 *
 * Samples of one time are joined channel by channel: a number beats no value, of two numbers the larger stays. The join is
 * commutative, associative and idempotent, so the order of arrival changes nothing.
 * Shapes: times may be unsorted within a block. The result shares no memory with what it is made of.
 * Errors: none; no block gives an empty one.
 */
export function mergeBlocks(machineId: string, blocks: readonly SampleBlock[]): MergedBlock {
  const times = laidOut(blocks);
  if (isStrictlyRising(times)) return { block: chained(machineId, blocks, times), duplicates: 0, conflicts: 0 };
  const order = risingOrder(times);
  const { timeMs, target } = distinctTimes(times, order);
  const names = presentChannels(blocks);
  const hasConflict = new Uint8Array(times.length);
  const columns: Partial<Record<ChannelName, Column>> = {};
  for (const name of names) columns[name] = joinColumn(name, blocks, { length: timeMs.length, target, hasConflict });
  const conflicts = hasConflict.reduce((sum, flag) => sum + flag, 0);
  return { block: { machineId, timeMs, channels: columns }, duplicates: times.length - timeMs.length, conflicts };
}

/** The block itself when its times rise strictly, as they do as a rule; else a sorted one. */
export function inOrder(block: SampleBlock): SampleBlock {
  return isStrictlyRising(block.timeMs) ? block : mergeBlocks(block.machineId, [block]).block;
}

/**
 * The usual case, in which there is nothing to join: blocks one after the other. All columns lie in one piece of memory:
 * small pieces cost more than what is in them.
 */
function chained(machineId: string, blocks: readonly SampleBlock[], times: Float64Array): SampleBlock {
  const { length } = times;
  const names = presentChannels(blocks);
  const wide = names.filter(isWideChannel).length;
  const memory = new ArrayBuffer(length * (8 * (1 + wide) + 4 * (names.length - wide)));
  const timeMs = new Float64Array(memory, 0, length);
  timeMs.set(times);
  const columns: Partial<Record<ChannelName, Column>> = {};
  // Wide ones first, since each begins at a multiple of its width.
  let wideAt = 8 * length;
  let narrowAt = 8 * length * (1 + wide);
  for (const name of names) {
    const isWide = isWideChannel(name);
    const column = isWide ? new Float64Array(memory, wideAt, length) : new Float32Array(memory, narrowAt, length);
    if (isWide) wideAt += 8 * length;
    else narrowAt += 4 * length;
    fillInTurn(name, column, blocks);
    columns[name] = column;
  }
  return { machineId, timeMs, channels: columns };
}

function fillInTurn(name: ChannelName, column: Column, blocks: readonly SampleBlock[]): void {
  let at = 0;
  for (const { timeMs, channels } of blocks) {
    const part = channels[name];
    if (part === undefined) column.fill(Number.NaN, at, at + timeMs.length);
    else column.set(part, at);
    at += timeMs.length;
  }
}

function isStrictlyRising(times: Float64Array): boolean {
  for (let i = 1; i < times.length; i++) if (!((times[i] as number) > (times[i - 1] as number))) return false;
  return true;
}

/** In the order of the catalogue. One look at each block: there may be thousands of them, of one sample each. */
function presentChannels(blocks: readonly SampleBlock[]): ChannelName[] {
  const present = new Set<string>();
  for (const { channels } of blocks) {
    for (const name in channels) if (channels[name as ChannelName] !== undefined) present.add(name);
  }
  return channelNames.filter((name) => present.has(name));
}

/** Times of all blocks, one after the other. */
function laidOut(blocks: readonly SampleBlock[]): Float64Array {
  const times = new Float64Array(blocks.reduce((sum, block) => sum + block.timeMs.length, 0));
  let at = 0;
  for (const block of blocks) {
    times.set(block.timeMs, at);
    at += block.timeMs.length;
  }
  return times;
}

/** Positions in order of time; null when they are in that order already. */
function risingOrder(times: Float64Array): Uint32Array | null {
  let isRising = true;
  for (let i = 1; i < times.length && isRising; i++) isRising = (times[i] as number) >= (times[i - 1] as number);
  if (isRising) return null;
  const order = Uint32Array.from({ length: times.length }, (_, i) => i);
  return order.sort((a, b) => (times[a] as number) - (times[b] as number) || a - b);
}

/** The times without repetition, and for each position the row that its time has got. */
function distinctTimes(times: Float64Array, order: Uint32Array | null): { timeMs: Float64Array; target: Uint32Array } {
  const target = new Uint32Array(times.length);
  const distinct = new Float64Array(times.length);
  let rows = 0;
  for (let k = 0; k < times.length; k++) {
    const position = order === null ? k : (order[k] as number);
    const time = times[position] as number;
    if (rows === 0 || distinct[rows - 1] !== time) distinct[rows++] = time;
    target[position] = rows - 1;
  }
  return { timeMs: distinct.slice(0, rows), target };
}

interface Join {
  readonly length: number;
  readonly target: Uint32Array;
  /** Set for a position whose number differs from one that its row has already. */
  readonly hasConflict: Uint8Array;
}

function joinColumn(name: ChannelName, blocks: readonly SampleBlock[], join: Join): Column {
  const { target, hasConflict } = join;
  const joined = createColumn(name, join.length);
  let position = 0;
  for (const block of blocks) {
    const column = block.channels[name];
    if (column !== undefined) {
      for (let i = 0; i < column.length; i++) {
        const value = column[i] as number;
        if (value !== value) continue;
        const row = target[position + i] as number;
        const have = joined[row] as number;
        if (have === have && have !== value) hasConflict[position + i] = 1;
        if (!(have >= value)) joined[row] = value;
      }
    }
    position += block.timeMs.length;
  }
  return joined;
}

/** Whether two blocks hold the same samples, bit for bit; a channel without any value counts as not sent. */
export function sameSamples(a: SampleBlock, b: SampleBlock): boolean {
  if (a.timeMs.length !== b.timeMs.length) return false;
  for (let i = 0; i < a.timeMs.length; i++) if (a.timeMs[i] !== b.timeMs[i]) return false;
  return channelNames.every((name) => sameColumn(a.channels[name], b.channels[name], a.timeMs.length));
}

function sameColumn(a: Column | undefined, b: Column | undefined, length: number): boolean {
  if (a === undefined && b === undefined) return true;
  for (let i = 0; i < length; i++) {
    if (!Object.is(a?.[i] ?? Number.NaN, b?.[i] ?? Number.NaN)) return false;
  }
  return true;
}
