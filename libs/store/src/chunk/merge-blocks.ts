/** Several blocks of one machine as one. */

import { type ChannelName, type Column, channelNames, createColumn, type SampleBlock } from '@warmbrick/signals';

/**
 * Merges blocks of one machine sample by sample into one on a rising time axis.
 *
 * Where several have a value of the same channel at the same time, the largest stands, so that no order or repetition
 * of arrival changes the result. Shapes: gives a new block; the sources are not changed. Errors: throws on an empty list.
 */
export function mergeBlocks(blocks: readonly SampleBlock[]): SampleBlock {
  const first = blocks[0];
  if (first === undefined) throw new Error('there is nothing to merge');
  const timeMs = mergeTimes(blocks);
  const columns: Partial<Record<ChannelName, Column>> = {};
  for (const name of channelNames) {
    if (blocks.some((block) => block.channels[name] !== undefined)) columns[name] = createColumn(name, timeMs.length);
  }
  for (const block of blocks) fillIn(timeMs, columns, block);
  return { machineId: first.machineId, timeMs, channels: columns };
}

function mergeTimes(blocks: readonly SampleBlock[]): Float64Array {
  const all = new Float64Array(blocks.reduce((total, block) => total + block.timeMs.length, 0));
  let length = 0;
  for (const block of blocks) {
    all.set(block.timeMs, length);
    length += block.timeMs.length;
  }
  if (!isRising(all)) all.sort();
  let kept = 0;
  for (let i = 0; i < all.length; i++) {
    if (i === 0 || all[i] !== all[i - 1]) all[kept++] = all[i] as number;
  }
  return all.slice(0, kept);
}

function isRising(times: Float64Array): boolean {
  for (let i = 1; i < times.length; i++) {
    if ((times[i] as number) < (times[i - 1] as number)) return false;
  }
  return true;
}

function fillIn(timeMs: Float64Array, columns: Partial<Record<ChannelName, Column>>, block: SampleBlock): void {
  const places = new Uint32Array(block.timeMs.length);
  for (let i = 0, at = 0; i < places.length; i++, at++) {
    while ((timeMs[at] as number) < (block.timeMs[i] as number)) at++;
    places[i] = at;
  }
  for (const [name, source] of Object.entries(block.channels) as [ChannelName, Column][]) {
    const target = columns[name] as Column;
    for (let i = 0; i < places.length; i++) {
      const value = source[i] as number;
      const place = places[i] as number;
      const there = target[place] as number;
      if (value === value && !(there >= value)) target[place] = value;
    }
  }
}
