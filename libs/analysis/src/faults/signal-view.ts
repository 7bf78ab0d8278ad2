/** A look at recorded signals over a stretch of time. */

import type { ChannelName, SampleBlock } from '@warmbrick/signals';

export interface Stretch {
  readonly fromMs: number;
  readonly toMs: number;
}

/** What one channel said over a stretch. */
interface ChannelStats {
  readonly count: number;
  readonly mean: number;
  readonly min: number;
  readonly max: number;
  readonly first: number;
  readonly last: number;
}

export interface SignalView {
  /** Whether the channel has any value in the samples at all. */
  has(channel: ChannelName): boolean;
  /** Usable values while the engine runs; null when there are fewer than `leastValues`. */
  stats(channel: ChannelName, stretch: Stretch): ChannelStats | null;
  /** Every usable value with its time, running or not. */
  values(channel: ChannelName, stretch: Stretch): { readonly timeMs: number; readonly value: number }[];
  /** Samples with the engine running in a stretch, whatever else they carry. */
  runningCount(stretch: Stretch): number;
}

/** Fewer values than this say nothing. Source: engineering judgement. */
const leastValues = 3;

/**
 * Opens a view.
 *
 * Shapes: blocks in any order, none overlapping another. Missing: a machine without engine speed counts as running.
 */
export function viewSignals(blocks: readonly SampleBlock[], runningRpm: number): SignalView {
  const sorted = [...blocks].sort((a, b) => (a.timeMs[0] ?? 0) - (b.timeMs[0] ?? 0));
  function each(
    channel: ChannelName,
    stretch: Stretch,
    onlyRunning: boolean,
    take: (timeMs: number, value: number) => void,
  ) {
    for (const block of sorted) {
      const column = block.channels[channel];
      if (column === undefined) continue;
      const rpm = block.channels.engineSpeedRpm;
      for (let i = firstFrom(block.timeMs, stretch.fromMs); i < column.length; i++) {
        const timeMs = block.timeMs[i] as number;
        const value = column[i] as number;
        if (timeMs > stretch.toMs) break;
        if (Number.isNaN(value)) continue;
        if (onlyRunning && rpm !== undefined && (rpm[i] as number) < runningRpm) continue;
        take(timeMs, value);
      }
    }
  }
  return {
    has: (channel) => sorted.some((block) => block.channels[channel]?.some((value) => !Number.isNaN(value)) === true),
    stats(channel, stretch) {
      let [count, sum, min, max, first, last] = [0, 0, Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY, 0, 0];
      each(channel, stretch, true, (_, value) => {
        if (count === 0) first = value;
        count++;
        sum += value;
        min = Math.min(min, value);
        max = Math.max(max, value);
        last = value;
      });
      return count < leastValues ? null : { count, mean: sum / count, min, max, first, last };
    },
    values(channel, stretch) {
      const list: { timeMs: number; value: number }[] = [];
      each(channel, stretch, false, (timeMs, value) => list.push({ timeMs, value }));
      return list;
    },
    runningCount(stretch) {
      let count = 0;
      each('engineSpeedRpm', stretch, true, () => count++);
      return count;
    },
  };
}

/** Index of the first time at or after another; times rise strictly. */
function firstFrom(times: Float64Array, fromMs: number): number {
  let low = 0;
  let high = times.length;
  while (low < high) {
    const middle = (low + high) >>> 1;
    if ((times[middle] as number) < fromMs) low = middle + 1;
    else high = middle;
  }
  return low;
}
