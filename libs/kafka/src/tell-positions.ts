/** Telling Kafka where the partitions stand. */

import type { EachBatchPayload } from 'kafkajs';
import type { Lane } from './lane.js';

/**
 * Commits the handled offsets that Kafka does not know yet. Only lag tools and the first fetch of a successor look at
 * them, the store decides: so failures count for nothing.
 */
export async function tellPositions(
  lanes: Iterable<Lane>,
  commit: EachBatchPayload['commitOffsetsIfNecessary'],
): Promise<void> {
  const moved = [...lanes].filter((lane) => lane.handledOffset !== null && lane.handledOffset !== lane.toldOffset);
  if (moved.length === 0) return;
  const topics = moved.map((lane) => ({
    topic: lane.topic,
    partitions: [{ partition: lane.partition, offset: String(lane.handledOffset) }],
  }));
  for (const lane of moved) lane.toldOffset = lane.handledOffset;
  await commit({ topics }).catch(() => {});
}
