/** Carries a channel's last value into later samples that lack it, for a bounded time. */

import { type ChannelName, type Column, createColumn, type SampleBlock } from '@warmbrick/signals';

interface Carried {
  value: number;
  timeMs: number;
}

/**
 * Creates a filler for blocks that come in order of time for each machine.
 *
 * Missing: a value is carried at most `fillS` after the sample that had it; a carried value is not carried on.
 * The block's own columns are filled in place; a channel that is only carried gets a column.
 */
export function createFiller(fillS: number): (block: SampleBlock) => SampleBlock {
  const machines = new Map<string, Map<ChannelName, Carried>>();
  const longestMs = fillS * 1000;
  return (block) => {
    let carried = machines.get(block.machineId);
    if (carried === undefined) {
      carried = new Map();
      machines.set(block.machineId, carried);
    }
    const firstMs = block.timeMs[0] as number;
    const columns: Partial<Record<ChannelName, Column>> = { ...block.channels };
    for (const [name, last] of carried) {
      if (columns[name] === undefined && firstMs - last.timeMs <= longestMs) {
        columns[name] = createColumn(name, block.timeMs.length);
      }
    }
    for (const [name, column] of Object.entries(columns) as [ChannelName, Column][]) {
      const last = carried.get(name) ?? { value: Number.NaN, timeMs: Number.NEGATIVE_INFINITY };
      fill(column, block.timeMs, last, longestMs);
      carried.set(name, last);
    }
    return { machineId: block.machineId, timeMs: block.timeMs, channels: columns };
  };
}

function fill(column: Column, timeMs: Float64Array, last: Carried, longestMs: number): void {
  for (let i = 0; i < column.length; i++) {
    const value = column[i] as number;
    const now = timeMs[i] as number;
    if (value === value) {
      last.value = value;
      last.timeMs = now;
    } else if (now - last.timeMs <= longestMs) {
      column[i] = last.value;
    }
  }
}
