/** Samples from the future: one wrong clock must not move a machine's front, so they are put aside. */

import { blockChannels, type ChannelName, type Column, type SampleBlock } from '@warmbrick/signals';

export interface SplitBlock {
  /** The block without them; the block itself when there are none. */
  readonly block: SampleBlock;
  readonly fromTheFuture: number;
}

/** Parts the samples later than `latestMs` from a block. */
export function withoutFuture(block: SampleBlock, latestMs: number): SplitBlock {
  const { timeMs } = block;
  let fromTheFuture = 0;
  for (let i = 0; i < timeMs.length; i++) if (!((timeMs[i] as number) <= latestMs)) fromTheFuture++;
  if (fromTheFuture === 0) return { block, fromTheFuture };
  const isKept = (_value: number, i: number) => (timeMs[i] as number) <= latestMs;
  const columns: Partial<Record<ChannelName, Column>> = {};
  for (const name of blockChannels(block)) columns[name] = (block.channels[name] as Column).filter(isKept);
  return { block: { machineId: block.machineId, timeMs: timeMs.filter(isKept), channels: columns }, fromTheFuture };
}
