/** The codecs that the client lacks: Snappy, LZ4 and Zstandard beside its own gzip. */

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
  kafkajs.CompressionCodecs[CompressionTypes.Snappy] = () => codec(compressSnappy, decompressSnappy);
  // Source: Kafka protocol, record batches of version 2 hold LZ4 frames, with independent blocks.
  kafkajs.CompressionCodecs[CompressionTypes.LZ4] = () => codec(compressFrame, decompressFrame);
  kafkajs.CompressionCodecs[CompressionTypes.ZSTD] = () => codec(zstd.compress, zstd.decompress);
}

function codec(compress: (plain: Buffer) => Promise<Buffer>, decompress: (packed: Buffer) => Promise<Buffer>) {
  return {
    compress: (encoder: Encoder) => compress(encoder.buffer),
    decompress: (packed: Buffer) => decompress(packed),
  };
}
