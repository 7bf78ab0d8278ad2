/** Samples as packed columns: what the bench page fetches of a machine, a day at a time. */

import { type ChannelName, type Column, isChannelName, isWideChannel, type SampleBlock } from '@warmbrick/signals';

/** Media type of the packed columns. */
export const sampleColumnsType = 'application/vnd.warmbrick.sample-columns';

const magic = 0x57_42_43_31;
const bytesAligned = 8;

/**
 * Packs blocks of one machine: a head, then for each block times as whole milliseconds since its first, and its columns as
 * they lie in memory. Compress it on the way.
 *
 * Units: times UTC epoch ms. Shapes: blocks shorter than 49 days. Missing: NaN, as in the block.
 */
export function packColumns(blocks: readonly SampleBlock[]): Uint8Array<ArrayBuffer> {
  const heads = blocks.map((block) => ({
    firstMs: block.timeMs[0] ?? 0,
    samples: block.timeMs.length,
    channels: Object.keys(block.channels),
  }));
  const head = JSON.stringify({ machineId: blocks[0]?.machineId ?? '', blocks: heads });
  const headBytes = asciiOf(head);
  const total = blocks.reduce((sum, block) => sum + bytesOf(block), aligned(8 + headBytes.length));
  const bytes = new Uint8Array(total);
  const view = new DataView(bytes.buffer);
  view.setUint32(0, magic, true);
  view.setUint32(4, headBytes.length, true);
  bytes.set(headBytes, 8);
  let at = aligned(8 + headBytes.length);
  for (const block of blocks) {
    const { timeMs } = block;
    const sinceFirst = new Uint32Array(bytes.buffer, at, timeMs.length);
    for (let i = 0; i < timeMs.length; i++) sinceFirst[i] = (timeMs[i] as number) - (timeMs[0] as number);
    at += aligned(sinceFirst.byteLength);
    for (const column of Object.values(block.channels) as Column[]) {
      bytes.set(new Uint8Array(column.buffer, column.byteOffset, column.byteLength), at);
      at += aligned(column.byteLength);
    }
  }
  return bytes;
}

/**
 * Unpacks what `packColumns` packed; the columns share memory with the bytes where they can.
 *
 * Errors: RangeError for bytes that are none of ours. Both sides are little-endian, as every machine that runs this is.
 */
export function unpackColumns(bytes: Uint8Array<ArrayBuffer>): SampleBlock[] {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  if (bytes.byteLength < 8 || view.getUint32(0, true) !== magic) throw new RangeError('not packed sample columns');
  const headLength = view.getUint32(4, true);
  const head = JSON.parse(textOf(bytes.subarray(8, 8 + headLength))) as {
    machineId: string;
    blocks: { firstMs: number; samples: number; channels: string[] }[];
  };
  let at = bytes.byteOffset + aligned(8 + headLength);
  return head.blocks.map(({ firstMs, samples, channels: names }) => {
    const sinceFirst = new Uint32Array(bytes.buffer, at, samples);
    at += aligned(sinceFirst.byteLength);
    const channels: Partial<Record<ChannelName, Column>> = {};
    for (const name of names.filter(isChannelName)) {
      const column = isWideChannel(name)
        ? new Float64Array(bytes.buffer, at, samples)
        : new Float32Array(bytes.buffer, at, samples);
      channels[name] = column;
      at += aligned(column.byteLength);
    }
    return { machineId: head.machineId, timeMs: Float64Array.from(sinceFirst, (ms) => firstMs + ms), channels };
  });
}

function bytesOf(block: SampleBlock): number {
  const columns = Object.values(block.channels) as Column[];
  return columns.reduce((sum, column) => sum + aligned(column.byteLength), aligned(4 * block.timeMs.length));
}

function aligned(length: number): number {
  return Math.ceil(length / bytesAligned) * bytesAligned;
}

/** JSON may have any character of a machine's name; escaped it is plain ASCII. */
function asciiOf(json: string): Uint8Array {
  const text = json.replace(/[^\x20-\x7e]/g, (one) => `\\u${one.charCodeAt(0).toString(16).padStart(4, '0')}`);
  return Uint8Array.from(text, (one) => one.charCodeAt(0));
}

function textOf(bytes: Uint8Array): string {
  let text = '';
  for (const byte of bytes) text += String.fromCharCode(byte);
  return text;
}
