/** Lowest, mean and highest value of each channel by bucket of time, filled block by block so that memory stays bounded. */

import { type SampleSeries, toInstant } from '@warmbrick/contracts';
import { blockChannels, type ChannelName, channels, type SampleBlock } from '@warmbrick/signals';

/** Bucket lengths that read well on a time axis, in seconds. Source: common practice. */
const roundLengthsS = [
  1, 2, 5, 10, 15, 20, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 10_800, 21_600, 43_200, 86_400,
];

interface BucketGrid {
  /** Start of the first bucket. */
  readonly startMs: number;
  readonly bucketMs: number;
  readonly count: number;
}

/**
 * The finest grid of round buckets over [fromMs, toMs) with at most `most` buckets; an odd length only where no round one
 * fits.
 *
 * Range: toMs > fromMs; most >= 1.
 */
function bucketGrid(fromMs: number, toMs: number, most: number): BucketGrid {
  for (const lengthS of roundLengthsS) {
    const bucketMs = lengthS * 1000;
    const startMs = Math.floor(fromMs / bucketMs) * bucketMs;
    const count = Math.ceil((toMs - startMs) / bucketMs);
    if (count <= most) return { startMs, bucketMs, count };
  }
  const bucketMs = Math.ceil((toMs - fromMs) / most / 1000) * 1000;
  return { startMs: fromMs, bucketMs, count: Math.ceil((toMs - fromMs) / bucketMs) };
}

interface ChannelSums {
  readonly min: Float64Array;
  readonly max: Float64Array;
  readonly sum: Float64Array;
  readonly count: Uint32Array;
}

export interface SampleBuckets {
  /** Takes in the samples of a block that lie in a part of the range. */
  add(block: SampleBlock, part: { readonly fromMs: number; readonly toMs: number }): void;
  finish(): SampleSeries;
}

/** Starts an empty set of buckets over a range. */
export function createSampleBuckets(range: { fromMs: number; toMs: number; most: number }): SampleBuckets {
  const grid = bucketGrid(range.fromMs, range.toMs, range.most);
  const sampleCount = new Uint32Array(grid.count);
  const sums = new Map<ChannelName, ChannelSums>();
  return {
    add(block, part) {
      const first = lowerBound(block.timeMs, Math.max(part.fromMs, range.fromMs));
      const end = lowerBound(block.timeMs, Math.min(part.toMs, range.toMs));
      for (let i = first; i < end; i++) {
        const at = Math.floor(((block.timeMs[i] as number) - grid.startMs) / grid.bucketMs);
        sampleCount[at] = (sampleCount[at] as number) + 1;
      }
      for (const name of blockChannels(block)) {
        const into = sums.get(name) ?? emptySums(grid.count);
        sums.set(name, into);
        addColumn(into, block, name, { grid, first, end });
      }
    },
    finish() {
      const filled: number[] = [];
      for (let i = 0; i < grid.count; i++) if (sampleCount[i] !== 0) filled.push(i);
      return {
        from: toInstant(range.fromMs),
        to: toInstant(range.toMs),
        bucketS: grid.bucketMs / 1000,
        startedAt: filled.map((i) => toInstant(grid.startMs + i * grid.bucketMs)),
        channels: Object.fromEntries([...sums].map(([name, from]) => [name, channelSeries(name, from, filled)])),
      };
    },
  };
}

function emptySums(count: number): ChannelSums {
  return {
    min: new Float64Array(count).fill(Infinity),
    max: new Float64Array(count).fill(-Infinity),
    sum: new Float64Array(count),
    count: new Uint32Array(count),
  };
}

function addColumn(
  into: ChannelSums,
  block: SampleBlock,
  name: ChannelName,
  part: { grid: BucketGrid; first: number; end: number },
): void {
  const column = block.channels[name];
  if (column === undefined) return;
  const { timeMs } = block;
  const { startMs, bucketMs } = part.grid;
  const { min, max, sum, count } = into;
  for (let i = part.first; i < part.end; i++) {
    const value = column[i] as number;
    if (Number.isNaN(value)) continue;
    const at = Math.floor(((timeMs[i] as number) - startMs) / bucketMs);
    if (value < (min[at] as number)) min[at] = value;
    if (value > (max[at] as number)) max[at] = value;
    sum[at] = (sum[at] as number) + value;
    count[at] = (count[at] as number) + 1;
  }
}

function channelSeries(name: ChannelName, from: ChannelSums, filled: readonly number[]) {
  const usable = (i: number) => from.count[i] !== 0;
  return {
    unit: channels[name].unit,
    min: filled.map((i) => (usable(i) ? rounded(from.min[i] as number) : null)),
    mean: filled.map((i) => (usable(i) ? rounded((from.sum[i] as number) / (from.count[i] as number)) : null)),
    max: filled.map((i) => (usable(i) ? rounded(from.max[i] as number) : null)),
  };
}

/** Finer than any channel's resolution, so that a 32-bit float does not print as 17 digits. */
function rounded(value: number): number {
  return Math.round(value * 1e5) / 1e5;
}

function lowerBound(timeMs: Float64Array, atMs: number): number {
  let low = 0;
  let high = timeMs.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if ((timeMs[middle] as number) < atMs) low = middle + 1;
    else high = middle;
  }
  return low;
}
