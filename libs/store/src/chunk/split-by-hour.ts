/** Cutting samples at the full hours. */

import { type SampleBlock, sliceBlock } from '@warmbrick/signals';

/** Longest time that one chunk spans, in ms; chunks never cross a full hour. */
export const chunkSpanMs = 3_600_000;

export interface HourPiece {
  readonly hourMs: number;
  readonly block: SampleBlock;
}

/** The hour that a time lies in. */
export function hourOf(timeMs: number): number {
  return Math.floor(timeMs / chunkSpanMs) * chunkSpanMs;
}

/** A block's pieces by hour, in order. Shapes: the pieces share memory with the block. */
export function splitByHour(block: SampleBlock): HourPiece[] {
  const pieces: HourPiece[] = [];
  let from = 0;
  while (from < block.timeMs.length) {
    const hourMs = hourOf(block.timeMs[from] as number);
    const to = firstAtOrAfter(block.timeMs, hourMs + chunkSpanMs);
    pieces.push({ hourMs, block: sliceBlock(block, from, to) });
    from = to;
  }
  return pieces;
}

/** Place of the first time at or after a limit; the length when there is none. */
export function firstAtOrAfter(timeMs: Float64Array, limitMs: number): number {
  let low = 0;
  let high = timeMs.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if ((timeMs[middle] as number) < limitMs) low = middle + 1;
    else high = middle;
  }
  return low;
}
