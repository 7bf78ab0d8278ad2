/** The codecs that the client lacks: Snappy, LZ4 and Zstandard; and gzip unpacked in one piece, which the client does in small ones. */

import { promisify } from 'node:util';
import { gzip, unzip } from 'node:zlib';
import zstd from '@mongodb-js/zstd';
// The default export is all of the package: Node does not see the codecs among its names.
import kafkajs, { CompressionTypes } from 'kafkajs';
import { compressFrame, decompressFrame } from 'lz4-napi';
import { compressSnappy, decompressSnappy } from './snappy-codec.js';

/** What the client hands to a codec. */
interface Encoder {
  readonly buffer: Buffer;
}

/** Makes batches of every codec of Kafka readable and writable, in the whole process. */
export function registerCodecs(): void {
  kafkajs.CompressionCodecs[CompressionTypes.GZIP] = () => codec(packGzip, unpackGzip);
  kafkajs.CompressionCodecs[CompressionTypes.Snappy] = () => codec(compressSnappy, decompressSnappy);
  // Source: Kafka protocol, record batches of version 2 hold LZ4 frames, with independent blocks.
  kafkajs.CompressionCodecs[CompressionTypes.LZ4] = () => codec(compressFrame, decompressFrame);
  kafkajs.CompressionCodecs[CompressionTypes.ZSTD] = () => codec(zstd.compress, zstd.decompress);
}

const packGzip = promisify<Buffer, Buffer>(gzip);
const unpack = promisify<Buffer, { chunkSize: number }, Buffer>(unzip);

/** Memory asked for at once, whatever size a batch claims to have. Source: engineering judgement. */
const [leastPiece, mostPiece] = [1024, 16 * 1024 * 1024];

/**
 * Every piece is a turn of another thread and copied once more: as one piece of the size at the end of the bytes, it takes half the
 * processor time. Source: RFC 1952, ISIZE; measured.
 */
function unpackGzip(packed: Buffer): Promise<Buffer> {
  const size = packed.length < 4 ? 0 : packed.readUInt32LE(packed.length - 4);
  return unpack(packed, { chunkSize: Math.min(Math.max(size + 1, leastPiece), mostPiece) });
}

function codec(compress: (plain: Buffer) => Promise<Buffer>, decompress: (packed: Buffer) => Promise<Buffer>) {
  return {
    compress: (encoder: Encoder) => compress(encoder.buffer),
    decompress: (packed: Buffer) => decompress(packed),
  };
}
