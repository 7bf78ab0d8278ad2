/** Cutting samples at fixed moments of machine time, whatever the blocks they came in. */

import { type SampleBlock, sliceBlock } from '@warmbrick/signals';

/**
 * Hands the pieces of a block to `take`, cut at multiples of `stepMs`; each piece shares memory with the block.
 *
 * Shapes: the pieces in order are the block. Two blocks may still part a step between them.
 */
export function cutAtSteps(block: SampleBlock, stepMs: number, take: (piece: SampleBlock) => void): void {
  const { timeMs } = block;
  const length = timeMs.length;
  for (let from = 0; from < length; ) {
    const endMs = (Math.floor((timeMs[from] as number) / stepMs) + 1) * stepMs;
    const to = firstFrom(timeMs, endMs, from);
    take(from === 0 && to === length ? block : sliceBlock(block, from, to));
    from = to;
  }
}

/** Index of the first sample at or after a time, by bisection. */
function firstFrom(timeMs: Float64Array, atMs: number, from: number): number {
  let low = from;
  let high = timeMs.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if ((timeMs[middle] as number) < atMs) low = middle + 1;
    else high = middle;
  }
  return low;
}
