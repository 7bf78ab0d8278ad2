/** One assigned partition during one membership: its claim, and the batches that are held for it. */

import type { Claim, PartitionBatch } from './consumer-types.js';
import type { TopicPartition } from './rendezvous-assigner.js';

export interface HeldBatch {
  readonly batch: PartitionBatch;
  readonly bytes: number;
}

export interface Lane extends TopicPartition {
  claim: Claim | null;
  /** Next offset to read; meaningless before the claim. */
  position: number;
  /** Where the store will stand when the queue is done: behind `position` by marks that are no messages. */
  queuedOffset: number;
  /** Next offset that the store waits for; null before the claim. */
  handledOffset: number | null;
  handledTimestampMs: number;
  /** What Kafka was told last. */
  toldOffset: number | null;
  /** Offset after the last message, as last heard of. */
  endOffset: number;
  soughtOffset: number | null;
  shorterSinceMs: number | null;
  /** Not claimed before: another writer may still be at it. */
  notBeforeMs: number;
  readonly queue: HeldBatch[];
  heldBytes: number;
  isInWork: boolean;
  isPaused: boolean;
}

/** A lane at its beginning. */
export function createLane({ topic, partition }: TopicPartition): Lane {
  return {
    topic,
    partition,
    claim: null,
    position: 0,
    queuedOffset: 0,
    handledOffset: null,
    handledTimestampMs: 0,
    toldOffset: null,
    endOffset: 0,
    soughtOffset: null,
    shorterSinceMs: null,
    notBeforeMs: 0,
    queue: [],
    heldBytes: 0,
    isInWork: false,
    isPaused: false,
  };
}

/** Lets a lane begin where the store stands. */
export function startLane(lane: Lane, claim: Claim): void {
  lane.claim = claim;
  lane.position = claim.nextOffset;
  lane.queuedOffset = claim.nextOffset;
  lane.handledOffset = claim.nextOffset;
  lane.soughtOffset = null;
}

/** Key of a partition in maps; topic names hold no slash. Source: Kafka, legal characters of topic names. */
export function laneKey({ topic, partition }: TopicPartition): string {
  return `${topic}/${partition}`;
}

/** Messages not handled yet; null before the claim. */
export function laneLag(lane: Lane): number | null {
  if (lane.handledOffset === null) return null;
  // With nothing held, all that was read is handled; the marks after the last message are none.
  const doneOffset = lane.queue.length === 0 ? Math.max(lane.position, lane.handledOffset) : lane.handledOffset;
  return Math.max(0, lane.endOffset - doneOffset);
}

/** What is held behind the first batch. */
export function laneBehind({ queue }: Lane): { messages: number; bytes: number } {
  const behind = { messages: 0, bytes: 0 };
  for (const { batch, bytes } of queue.slice(1)) {
    behind.messages += batch.messages.length;
    behind.bytes += bytes;
  }
  return behind;
}
