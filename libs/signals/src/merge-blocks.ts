/** Putting samples in order: duplicates become one sample, whatever order they came in. */

import { type ChannelName, channelNames } from './channels.js';
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
 * Shapes: times may be unsorted within a block. Errors: none; no block gives an empty one.
 */
export function mergeBlocks(machineId: string, blocks: readonly SampleBlock[]): MergedBlock {
  const order = sortedPositions(blocks);
  const names = channelNames.filter((name) => blocks.some((block) => block.channels[name] !== undefined));
  const length = countTimes(blocks, order);
  const timeMs = new Float64Array(length);
  const columns: Partial<Record<ChannelName, Column>> = {};
  for (const name of names) columns[name] = createColumn(name, length);
  let at = -1;
  let conflicts = 0;
  for (const position of order) {
    const block = blocks[position.block] as SampleBlock;
    const time = block.timeMs[position.row] as number;
    if (at < 0 || timeMs[at] !== time) timeMs[++at] = time;
    if (joinRow(columns, at, { block, row: position.row, names })) conflicts++;
  }
  return { block: { machineId, timeMs, channels: columns }, duplicates: order.length - length, conflicts };
}

interface Position {
  readonly block: number;
  readonly row: number;
}

function sortedPositions(blocks: readonly SampleBlock[]): Position[] {
  const order: Position[] = [];
  blocks.forEach((block, k) => {
    for (let row = 0; row < block.timeMs.length; row++) order.push({ block: k, row });
  });
  const timeOf = (p: Position) => (blocks[p.block] as SampleBlock).timeMs[p.row] as number;
  return order.sort((a, b) => timeOf(a) - timeOf(b));
}

function countTimes(blocks: readonly SampleBlock[], order: readonly Position[]): number {
  let count = 0;
  let before = Number.NaN;
  for (const position of order) {
    const time = (blocks[position.block] as SampleBlock).timeMs[position.row] as number;
    if (time !== before) count++;
    before = time;
  }
  return count;
}

/** Joins one sample into row `at`; true when both had a number and the numbers differ. */
function joinRow(
  columns: Partial<Record<ChannelName, Column>>,
  at: number,
  sample: { block: SampleBlock; row: number; names: readonly ChannelName[] },
): boolean {
  let isConflict = false;
  for (const name of sample.names) {
    const value = sample.block.channels[name]?.[sample.row] ?? Number.NaN;
    if (value !== value) continue;
    const column = columns[name] as Column;
    const have = column[at] as number;
    if (have === have && have !== value) isConflict = true;
    if (!(have >= value)) column[at] = value;
  }
  return isConflict;
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
