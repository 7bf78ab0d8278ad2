/** Samples of one machine and stretch, laid down as they lie in memory, so that they are read again in no time. */

import { appendFileSync, closeSync, fstatSync, openSync, readSync } from 'node:fs';
import { type ChannelName, type Column, isWideChannel, type SampleBlock } from '@warmbrick/signals';

const alignment = 8;

/** Appends a block to a file and returns the bytes written. Layout: length, head as JSON, times, columns, each at a multiple of 8. */
export function appendBlock(path: string, block: SampleBlock): Buffer {
  const names = Object.keys(block.channels) as ChannelName[];
  const head = Buffer.from(JSON.stringify({ machineId: block.machineId, samples: block.timeMs.length, names }));
  const length = Buffer.alloc(alignment);
  length.writeUInt32LE(head.length);
  const parts = [length, padded(head), padded(bytesOf(block.timeMs))];
  for (const name of names) parts.push(padded(bytesOf(block.channels[name] as Column)));
  const bytes = Buffer.concat(parts);
  appendFileSync(path, bytes);
  return bytes;
}

/** Reads a file of blocks; the blocks share one buffer. Errors: those of the file system. */
export function readBlocks(path: string): SampleBlock[] {
  const bytes = readAll(path);
  const blocks: SampleBlock[] = [];
  for (let at = 0; at < bytes.length; ) {
    const headLength = new DataView(bytes.buffer, at, 4).getUint32(0, true);
    const headText = Buffer.from(bytes.buffer, at + alignment, headLength).toString();
    const head = JSON.parse(headText) as { machineId: string; samples: number; names: ChannelName[] };
    at += alignment + paddedLength(headLength);
    const timeMs = new Float64Array(bytes.buffer, at, head.samples);
    at += timeMs.byteLength;
    const channels: Partial<Record<ChannelName, Column>> = {};
    for (const name of head.names) {
      const column = isWideChannel(name)
        ? new Float64Array(bytes.buffer, at, head.samples)
        : new Float32Array(bytes.buffer, at, head.samples);
      channels[name] = column;
      at += paddedLength(column.byteLength);
    }
    blocks.push({ machineId: head.machineId, timeMs, channels });
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

function bytesOf(column: Column): Buffer {
  return Buffer.from(column.buffer, column.byteOffset, column.byteLength);
}

function padded(bytes: Buffer): Buffer {
  const missing = paddedLength(bytes.length) - bytes.length;
  return missing === 0 ? bytes : Buffer.concat([bytes, Buffer.alloc(missing)]);
}

function paddedLength(length: number): number {
  return Math.ceil(length / alignment) * alignment;
}
