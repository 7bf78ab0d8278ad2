/** Snappy as Kafka has it: bare, or in the frames of the xerial library, which Java clients write. */

import { compress, uncompress } from 'snappy';

/** First bytes of a framed stream: magic, version 1, compatible with version 1. Source: snappy-java, SnappyCodec. */
const magic = Buffer.from([0x82, 0x53, 0x4e, 0x41, 0x50, 0x50, 0x59, 0x00]);
const header = Buffer.concat([magic, Buffer.from([0, 0, 0, 1, 0, 0, 0, 1])]);
/** Plain bytes of a frame. Source: snappy-java, SnappyOutputStream, default block size. */
const frameBytes = 32 * 1024;
/** Plain bytes of a block at most: many times what a batch may hold; a larger length is damage. */
const mostPlainBytes = 256 * 1024 * 1024;

/** Compresses in frames: every Kafka client reads those. */
export async function compressSnappy(plain: Buffer): Promise<Buffer> {
  const parts: Buffer[] = [header];
  for (let at = 0; at < plain.length; at += frameBytes) {
    const block = await compress(plain.subarray(at, at + frameBytes));
    const length = Buffer.alloc(4);
    length.writeUInt32BE(block.length);
    parts.push(length, block);
  }
  return Buffer.concat(parts);
}

/** Decompresses either form. Errors: throws when the bytes are damaged. */
export async function decompressSnappy(packed: Buffer): Promise<Buffer> {
  if (!packed.subarray(0, magic.length).equals(magic)) return uncompressBlock(packed);
  const parts: Buffer[] = [];
  for (let at = header.length; at < packed.length; ) {
    const from = at + 4;
    const to = from + packed.readUInt32BE(at);
    if (to > packed.length) throw new RangeError('a snappy frame is longer than its batch');
    parts.push(await uncompressBlock(packed.subarray(from, to)));
    at = to;
  }
  return Buffer.concat(parts);
}

async function uncompressBlock(block: Buffer): Promise<Buffer> {
  if (plainLength(block) > mostPlainBytes) throw new RangeError('a snappy block claims an impossible length');
  return (await uncompress(block, { asBuffer: true })) as Buffer;
}

/** The length that a block begins with. Source: snappy format description, 1: a little-endian varint. */
function plainLength(block: Buffer): number {
  let length = 0;
  for (let i = 0; i < 5 && i < block.length; i++) {
    const byte = block[i] as number;
    length += (byte & 0x7f) * 2 ** (7 * i);
    if (byte < 0x80) return length;
  }
  return Number.POSITIVE_INFINITY;
}
