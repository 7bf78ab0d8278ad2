/** Observed blocks that stay good: the observer lends its arrays only until the next block. */

import type { ObservedBlock } from '@warmbrick/analysis';

type Arrays = Readonly<Record<string, unknown>>;

/** Copies an observed block with all its columns. */
export function keepBlock(block: ObservedBlock): ObservedBlock {
  const spanStart = block.spanStart.subarray(0, block.spanCount + 1);
  return copied({ ...block, spanStart, further: copied(block.further as Arrays) }) as unknown as ObservedBlock;
}

function copied(columns: Arrays): Record<string, unknown> {
  return Object.fromEntries(
    Object.entries(columns).map(([name, value]) => [name, isColumn(value) ? value.slice() : value]),
  );
}

function isColumn(value: unknown): value is Float64Array {
  return ArrayBuffer.isView(value);
}
