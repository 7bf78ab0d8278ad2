/** What a consumer is told, what it hands on, and what it says about itself. */

import type { TopicPartition } from './rendezvous-assigner.js';

/** Where a partition stands in the store, and the number that proves the right to move it. */
export interface Claim {
  readonly nextOffset: number;
  readonly epoch: number;
}

export interface IncomingMessage {
  readonly offset: number;
  /** When the producer or the broker stamped it, UTC epoch ms. */
  readonly timestampMs: number;
  /** A view of the fetched bytes: copy what is kept for longer than the batch. */
  readonly key: Buffer | null;
  readonly value: Buffer | null;
}

/** Messages of one partition in order, none of them handed on before under this epoch. */
export interface PartitionBatch extends TopicPartition {
  readonly epoch: number;
  /** Where the partition stands before the batch, and after it; the store moves from one to the other. */
  readonly expectedOffset: number;
  readonly nextOffset: number;
  readonly messages: readonly IncomingMessage[];
}

export interface BatchTools {
  /** To be called between slices of long work and while waiting for a store; throws when the partition was taken away. */
  heartbeat(): Promise<void>;
  /** Whether the partition was taken away: then the work is in vain. */
  isRevoked(): boolean;
  /** What has been read of the partition after this batch: it is handed over when this one is done. */
  behind(): { readonly messages: number; readonly bytes: number };
}

/** Messages that are gone: the log began after the place where the store stands. */
export interface OffsetGap extends TopicPartition {
  readonly fromOffset: number;
  readonly toOffset: number;
}

export interface ConsumerHandlers {
  /**
   * Takes ownership of a partition in the store, before its first batch after each join and right after a good heartbeat.
   * A retriable OperatingError is tried again.
   */
  readonly claim: (partition: TopicPartition) => Promise<Claim>;
  /**
   * Works on a batch and moves the store to `nextOffset` in the same transaction. Batches of a partition come one by one.
   *
   * Errors: OperatingError `fenced` gives the partition up and claims it anew; a retriable one repeats the batch; any
   * other is a bug and reaches `onFatal`.
   */
  readonly handle: (batch: PartitionBatch, tools: BatchTools) => Promise<void>;
  /** The consumer is beyond help: the process should end with an exit code other than 0. Called once. */
  readonly onFatal: (error: Error) => void;
  readonly onAssigned?: (partitions: readonly TopicPartition[]) => void;
  readonly onGap?: (gap: OffsetGap) => void;
  /** More has come to lie behind a batch that is at work. */
  readonly onQueued?: () => void;
}

export interface ConsumerOptions extends ConsumerHandlers {
  readonly groupId: string;
  readonly topics: readonly string[];
  /** Stable over restarts and unique in the group, such as the name of a pod. */
  readonly instanceName: string;
  readonly limits?: Partial<ConsumerLimits>;
}

export interface ConsumerLimits {
  /** Batches of one partition held, in work or waiting; and the bytes of all that are held. */
  readonly batchesPerPartition: number;
  readonly heldBytes: number;
  /** Handlers at work at once, on different partitions. */
  readonly parallelHandlers: number;
  /** How long a full partition holds up the others before it is paused. */
  readonly pauseAfterMs: number;
  readonly sessionTimeoutMs: number;
  readonly rebalanceTimeoutMs: number;
  readonly heartbeatMs: number;
  readonly fetchWaitMs: number;
  readonly bytesPerPartition: number;
  readonly bytesPerFetch: number;
  /** How often Kafka is told the position, for lag tools; nothing depends on it. */
  readonly commitEveryMs: number;
  /** How often the ends of the partitions are asked for, and life is checked. */
  readonly watchEveryMs: number;
  /** No sign of life for so long, and the consumer is started anew. More than a rebalance takes. */
  readonly stuckAfterMs: number;
  /** New starts without lasting progress before it is fatal. */
  readonly restarts: number;
  /** How long a log may end before the store's position: a new leader catches up, a topic made anew does not. */
  readonly shorterLogMs: number;
  /** Waits before trying again what failed for a reason that passes. */
  readonly firstRetryMs: number;
  readonly longestRetryMs: number;
  /** Wait before a partition is claimed anew that another writer took: two owners must not drive each other out for ever. */
  readonly fencedWaitMs: number;
  /** How long `stop` waits for handlers at work. */
  readonly stopWithinMs: number;
}

/** Source: engineering judgement, after measurements with this client; see the README. */
export const usualConsumerLimits: ConsumerLimits = {
  batchesPerPartition: 2,
  heldBytes: 128 * 1024 * 1024,
  parallelHandlers: 2,
  pauseAfterMs: 500,
  sessionTimeoutMs: 30_000,
  rebalanceTimeoutMs: 60_000,
  heartbeatMs: 3000,
  fetchWaitMs: 250,
  bytesPerPartition: 2 * 1024 * 1024,
  bytesPerFetch: 8 * 1024 * 1024,
  commitEveryMs: 5000,
  watchEveryMs: 5000,
  stuckAfterMs: 120_000,
  restarts: 3,
  shorterLogMs: 30_000,
  firstRetryMs: 250,
  longestRetryMs: 10_000,
  fencedWaitMs: 2000,
  stopWithinMs: 30_000,
};

/** Counts since the start, over all restarts. */
export interface ConsumerCounts {
  batches: number;
  messages: number;
  /** Messages below the store's position that came again. */
  dropped: number;
  seeks: number;
  gaps: number;
  claims: number;
  fenced: number;
  pauses: number;
  joins: number;
  revocations: number;
  retries: number;
  restarts: number;
}

export interface PartitionLag extends TopicPartition {
  /** Messages not handled yet; null before the partition was claimed. */
  readonly messages: number | null;
  /** Age of the newest handled message while there are others; 0 when there are none. */
  readonly seconds: number | null;
  readonly isPaused: boolean;
}

export interface RunningConsumer {
  counts(): Readonly<ConsumerCounts>;
  /** Of the partitions assigned now. */
  lag(): PartitionLag[];
  /** Lets handlers at work end, tells Kafka the positions and leaves the group. */
  stop(): Promise<void>;
}
