/** Samples of one machine and stretch, laid down as they lie in memory, so that they are read again in no time. */

import { appendFileSync, closeSync, fstatSync, openSync, readSync } from 'node:fs';
import { packColumns, unpackColumns } from '@warmbrick/contracts';
import type { SampleBlock } from '@warmbrick/signals';

/** Bytes before each block, which say how long it is; keeps what follows at a multiple of 8. */
const headBytes = 8;

/** Appends a block to a file and returns the bytes written. Shapes: a block shorter than 49 days. */
export function appendBlock(path: string, block: SampleBlock): Uint8Array {
  const packed = packColumns([block]);
  const bytes = new Uint8Array(headBytes + packed.byteLength);
  new DataView(bytes.buffer).setUint32(0, packed.byteLength, true);
  bytes.set(packed, headBytes);
  appendFileSync(path, bytes);
  return bytes;
}

/** Reads a file of blocks; the blocks share one buffer. Errors: those of the file system. */
export function readBlocks(path: string): SampleBlock[] {
  const bytes = readAll(path);
  const view = new DataView(bytes.buffer);
  const blocks: SampleBlock[] = [];
  for (let at = 0; at < bytes.length; ) {
    const length = view.getUint32(at, true);
    at += headBytes;
    blocks.push(...unpackColumns(bytes.subarray(at, at + length)));
    at += length;
  }
  return blocks;
}

function readAll(path: string): Uint8Array<ArrayBuffer> {
  const handle = openSync(path, 'r');
  try {
    const bytes = new Uint8Array(fstatSync(handle).size);
    for (let at = 0; at < bytes.length; ) at += readSync(handle, bytes, at, bytes.length - at, null);
    return bytes;
  } finally {
    closeSync(handle);
  }
}
