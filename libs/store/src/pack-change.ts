/** A machine's change in the form in which it is stored: all that takes time is done before the transaction begins. */

import type { AnalyzerSnapshot } from '@warmbrick/analysis';
import { mergeBlocks, type SampleBlock } from '@warmbrick/signals';
import { encodeChunk } from './chunk/encode-chunk.js';
import { splitByHour } from './chunk/split-by-hour.js';
import type { MachineChange, PackedChunk } from './store.js';

const encoder = new TextEncoder();

/**
 * Packs a change; one that is packed stays as it is. It can be done in another thread than the commit: the result is plain
 * values and bytes.
 *
 * Shapes: samples, states and kept snapshots are in `packed` only; everything else stays.
 */
export function packChange(change: MachineChange): MachineChange {
  if (change.packed !== undefined) return change;
  const { snapshot, keptSnapshots } = change;
  const packed = {
    chunks: chunksOf(change),
    state: snapshot === null ? null : bytesOf(snapshot),
    keptStates: keptSnapshots.map((kept) => ({ atMs: kept.atMs, body: bytesOf(kept.snapshot) })),
  };
  const emptied = snapshot === null ? null : { ...snapshot, states: {} };
  return { ...change, samples: [], snapshot: emptied, keptSnapshots: [], packed };
}

function bytesOf(snapshot: AnalyzerSnapshot): Uint8Array {
  return encoder.encode(JSON.stringify(snapshot));
}

/** Samples from which on a chunk is worth keeping as it is: packed tightly, it is as small as in a whole hour. Source: measured. */
const lastingSamples = 600;

/** A chunk an hour. A short one of the last hour will be put together with others: packing it tightly would be for nothing. */
function chunksOf(change: MachineChange): PackedChunk[] {
  const blocks = change.samples.filter((block) => block.timeMs.length > 0);
  if (blocks.length === 0) return [];
  const whole = blocks.length === 1 ? (blocks[0] as SampleBlock) : mergeBlocks(change.machineId, blocks).block;
  const pieces = splitByHour(whole);
  return pieces.map(({ hourMs, block }, place) => {
    const isPassing = place === pieces.length - 1 && block.timeMs.length < lastingSamples;
    return packChunk(hourMs, block, isPassing);
  });
}

/** Packs the samples of one hour; `isPlain` for a chunk that will soon be put together with others. */
export function packChunk(hourMs: number, block: SampleBlock, isPlain: boolean): PackedChunk {
  return {
    hourMs,
    firstMs: block.timeMs[0] as number,
    lastMs: block.timeMs.at(-1) as number,
    samples: block.timeMs.length,
    bytes: encodeChunk(block, { isPlain }),
  };
}
