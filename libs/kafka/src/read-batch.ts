/** The client's batches -> ours. */

import type { Batch } from 'kafkajs';
import type { IncomingMessage } from './consumer-types.js';
import type { FetchedRange } from './plan-batch.js';

/** Which offsets a batch covers. */
export function readRange(batch: Batch): FetchedRange {
  // The client keeps the offset that it asked for and does not list it among its types.
  const { fetchedOffset } = batch as Batch & { fetchedOffset?: string };
  return {
    fetchedOffset: Number(fetchedOffset ?? batch.firstOffset()),
    lastOffset: Number(batch.lastOffset()),
    endOffset: Number(batch.highWatermark),
  };
}

/** The messages from `fromOffset` on, their size, and how many lie before it. */
export function readMessages(batch: Batch, fromOffset: number) {
  const messages: IncomingMessage[] = [];
  let bytes = 0;
  for (const message of batch.messages) {
    const offset = Number(message.offset);
    if (offset < fromOffset) continue;
    const { key, value } = message;
    messages.push({ offset, timestampMs: Number(message.timestamp), key: key ?? null, value });
    bytes += (value?.length ?? 0) + (key?.length ?? 0);
  }
  return { messages, bytes, dropped: batch.messages.length - messages.length };
}
