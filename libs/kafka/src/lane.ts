/** One assigned partition during one membership: its claim, and the batches that are held for it. */

import type { Claim, PartitionBatch } from './consumer-types.js';
import type { TopicPartition } from './rendezvous-assigner.js';

export interface HeldBatch {
  readonly batch: PartitionBatch;
  readonly bytes: number;
}

export interface Lane extends TopicPartition {
  claim: Claim | null;
  /** Next offset to put into the queue; meaningless before the claim. */
  position: number;
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

/** Key of a partition in maps; topic names hold no slash. Source: Kafka, legal characters of topic names. */
export function laneKey({ topic, partition }: TopicPartition): string {
  return `${topic}/${partition}`;
}

/** Messages not handled yet; null before the claim. */
export function laneLag(lane: Lane): number | null {
  return lane.handledOffset === null ? null : Math.max(0, lane.endOffset - lane.handledOffset);
}
