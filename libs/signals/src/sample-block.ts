/** Sample blocks: columns of one machine's samples on one strictly rising time axis. */

import { type ChannelName, channelNames, isWideChannel } from './channels.js';

export type Column = Float32Array | Float64Array;

export interface SampleBlock {
  readonly machineId: string;
  /** UTC epoch milliseconds, strictly rising. */
  readonly timeMs: Float64Array;
  /** One column a channel, as long as `timeMs`; NaN where there is no usable value. A channel not listed was not sent. */
  readonly channels: Readonly<Partial<Record<ChannelName, Column>>>;
}

/** Reserves a column of the width the channel needs, filled with NaN. */
export function createColumn(name: ChannelName, length: number): Column {
  const column = isWideChannel(name) ? new Float64Array(length) : new Float32Array(length);
  return column.fill(Number.NaN);
}

/** Names of the channels that a block carries, in catalogue order. */
export function blockChannels(block: SampleBlock): ChannelName[] {
  return channelNames.filter((name) => block.channels[name] !== undefined);
}

/**
 * A view of samples `from` (inclusive) to `to` (exclusive); shares memory with the block.
 *
 * Range: 0 <= from <= to <= length.
 */
export function sliceBlock(block: SampleBlock, from: number, to: number): SampleBlock {
  const columns: Partial<Record<ChannelName, Column>> = {};
  for (const name of blockChannels(block)) columns[name] = (block.channels[name] as Column).subarray(from, to);
  return { machineId: block.machineId, timeMs: block.timeMs.subarray(from, to), channels: columns };
}
