/** Batches of messages as columns and one piece of bytes, to hand them to another thread without copying them twice. */

import type { IncomingMessage, PartitionBatch } from '@warmbrick/kafka';

/** A batch without its messages, and where these lie in `bytes`. */
export interface BatchBytes extends Omit<PartitionBatch, 'messages'> {
  readonly offsets: Float64Array;
  /** Of key and value of each message in turn; -1 for one that is not there. */
  readonly sizes: Int32Array;
  /** Keys and values one after the other. */
  readonly bytes: Uint8Array<ArrayBuffer>;
}

/** Lays some messages of a batch out; they are copied. */
export function toBytes(batch: PartitionBatch, messages: readonly IncomingMessage[]): BatchBytes {
  const { messages: _all, ...rest } = batch;
  const offsets = new Float64Array(messages.length);
  const sizes = new Int32Array(2 * messages.length);
  let length = 0;
  for (const [i, { offset, key, value }] of messages.entries()) {
    offsets[i] = offset;
    sizes[2 * i] = key?.length ?? -1;
    sizes[2 * i + 1] = value?.length ?? -1;
    length += (key?.length ?? 0) + (value?.length ?? 0);
  }
  const bytes = new Uint8Array(length);
  let at = 0;
  for (const { key, value } of messages) {
    if (key !== null) bytes.set(key, at);
    at += key?.length ?? 0;
    if (value !== null) bytes.set(value, at);
    at += value?.length ?? 0;
  }
  return { ...rest, offsets, sizes, bytes };
}

/** The batch again; its messages are views of the bytes. What nobody looks at, the broker's time, is 0. */
export function fromBytes({ offsets, sizes, bytes, ...batch }: BatchBytes): PartitionBatch {
  let at = 0;
  const next = (size: number): Buffer | null => {
    if (size < 0) return null;
    at += size;
    return Buffer.from(bytes.buffer, bytes.byteOffset + at - size, size);
  };
  const messages = Array.from(offsets, (offset, i) => {
    const key = next(sizes[2 * i] as number);
    const value = next(sizes[2 * i + 1] as number);
    return { offset, timestampMs: 0, key, value };
  });
  return { ...batch, messages };
}
