/** A consumer that guards itself: against lost assignments, lost messages, slow sinks and its own standstill. */

import { OperatingError } from '@warmbrick/runtime';
import type { Consumer } from 'kafkajs';
import {
  type ConsumerCounts,
  type ConsumerLimits,
  type ConsumerOptions,
  type PartitionLag,
  type RunningConsumer,
  usualConsumerLimits,
} from './consumer-types.js';
import type { KafkaClient } from './create-kafka.js';
import { judgeLife } from './judge-life.js';
import { laneKey, laneLag } from './lane.js';
import { Membership } from './membership.js';
import { createRendezvousAssigner } from './rendezvous-assigner.js';
import { waitAtMost } from './wait-at-most.js';

/** How long a consumer that is given up may take to leave, ms. Source: engineering judgement. */
const leaveWithinMs = 10_000;

/**
 * Joins a group and hands batches to `handle`, for which the store decides where to read on; see `ConsumerHandlers`.
 *
 * Errors: OperatingError `kafka-unavailable`, retriable, when no broker answers at the start. Later failures mend
 * themselves or reach `onFatal`.
 */
export async function runConsumer(client: KafkaClient, options: ConsumerOptions): Promise<RunningConsumer> {
  const guarded = new GuardedConsumer(client, options);
  await guarded.start();
  return guarded;
}

class GuardedConsumer implements RunningConsumer {
  readonly #client: KafkaClient;
  readonly #options: ConsumerOptions;
  readonly #limits: ConsumerLimits;
  readonly #counts: ConsumerCounts = {
    batches: 0,
    messages: 0,
    dropped: 0,
    seeks: 0,
    gaps: 0,
    claims: 0,
    fenced: 0,
    pauses: 0,
    joins: 0,
    revocations: 0,
    retries: 0,
    restarts: 0,
  };
  readonly #admin: ReturnType<KafkaClient['kafka']['admin']>;
  readonly #signs = {
    startedMs: 0,
    lastFetchMs: 0,
    lastHeartbeatMs: 0,
    lastProgressMs: 0,
    behindSinceMs: null as number | null,
  };
  #consumer: Consumer | null = null;
  #membership: Membership | null = null;
  #watch: NodeJS.Timeout | null = null;
  #isWatching = false;
  #isOver = false;
  /** Starts since work last went on for a while. */
  #recentRestarts = 0;
  #lastRestartMs = 0;

  constructor(client: KafkaClient, options: ConsumerOptions) {
    this.#client = client;
    this.#options = options;
    this.#limits = { ...usualConsumerLimits, ...options.limits };
    this.#admin = client.kafka.admin();
  }

  async start(): Promise<void> {
    try {
      await this.#admin.connect();
      await this.#join();
    } catch (error) {
      await this.stop();
      throw new OperatingError('No Kafka broker answers.', {
        code: 'kafka-unavailable',
        isRetriable: true,
        remedy: 'Check the broker addresses, and that the topics exist.',
        cause: error,
      });
    }
    if (this.#isOver) return;
    this.#watch = setInterval(() => void this.#look(), this.#limits.watchEveryMs);
  }

  counts(): Readonly<ConsumerCounts> {
    return { ...this.#counts };
  }

  lag(): PartitionLag[] {
    return [...(this.#membership?.lanes.values() ?? [])].map((lane) => {
      const messages = laneLag(lane);
      const ageS = Math.max(0, (Date.now() - lane.handledTimestampMs) / 1000);
      const seconds = messages === 0 ? 0 : messages === null || lane.handledTimestampMs === 0 ? null : ageS;
      return { topic: lane.topic, partition: lane.partition, messages, seconds, isPaused: lane.isPaused };
    });
  }

  async stop(): Promise<void> {
    this.#end();
    await this.#membership?.close(this.#limits.stopWithinMs);
    await this.#leave();
    await waitAtMost(this.#admin.disconnect(), leaveWithinMs);
  }

  async #join(): Promise<void> {
    const { limits, nowMs } = { limits: this.#limits, nowMs: Date.now() };
    Object.assign(this.#signs, {
      startedMs: nowMs,
      lastFetchMs: nowMs,
      lastHeartbeatMs: nowMs,
      lastProgressMs: nowMs,
      behindSinceMs: null,
    });
    const consumer = this.#client.kafka.consumer({
      groupId: this.#options.groupId,
      partitionAssigners: [createRendezvousAssigner(this.#options.instanceName)],
      sessionTimeout: limits.sessionTimeoutMs,
      rebalanceTimeout: limits.rebalanceTimeoutMs,
      heartbeatInterval: limits.heartbeatMs,
      maxWaitTimeInMs: limits.fetchWaitMs,
      minBytes: 1,
      maxBytesPerPartition: limits.bytesPerPartition,
      maxBytes: limits.bytesPerFetch,
      allowAutoTopicCreation: false,
    });
    this.#consumer = consumer;
    this.#listen(consumer);
    await consumer.connect();
    // Where the log no longer holds what was asked for, the rest of it is read, not the end.
    await consumer.subscribe({ topics: [...this.#options.topics], fromBeginning: true });
    await consumer.run({
      autoCommit: false,
      eachBatchAutoResolve: false,
      // Claims of several partitions may wait for the store at once.
      partitionsConsumedConcurrently: 4,
      eachBatch: async (payload) => {
        if (this.#consumer === consumer) await this.#membership?.take(payload);
      },
    });
  }

  #listen(consumer: Consumer): void {
    const { events } = consumer;
    const ifCurrent = (act: () => void) => () => {
      if (this.#consumer === consumer) act();
    };
    consumer.on(
      events.FETCH,
      ifCurrent(() => this.#sign('lastFetchMs')),
    );
    consumer.on(
      events.HEARTBEAT,
      ifCurrent(() => this.#sign('lastHeartbeatMs')),
    );
    consumer.on(
      events.REBALANCING,
      ifCurrent(() => this.#membership?.revoke()),
    );
    consumer.on(events.GROUP_JOIN, ({ payload }) => {
      if (this.#consumer === consumer) this.#joined(consumer, payload.memberAssignment);
    });
    consumer.on(events.START_BATCH_PROCESS, ({ payload }) => {
      if (this.#consumer !== consumer || payload.batchSize > 0) return;
      const lastOffset = Number(payload.lastOffset);
      const firstOffset = Number(payload.firstOffset ?? lastOffset);
      this.#membership?.passOver({ topic: payload.topic, partition: payload.partition, firstOffset, lastOffset });
    });
    consumer.on(events.CRASH, ({ payload }) => {
      if (this.#consumer !== consumer) return;
      this.#membership?.revoke();
      if (payload.restart) return;
      this.#fatal(
        new OperatingError(`The consumer ended: ${payload.error.message}`, {
          code: 'kafka-consumer-ended',
          remedy: 'Start the program again; see its log for the cause.',
          cause: payload.error,
        }),
      );
    });
  }

  #sign(name: 'lastFetchMs' | 'lastHeartbeatMs' | 'lastProgressMs'): void {
    this.#signs[name] = Date.now();
  }

  #joined(consumer: Consumer, assignment: Readonly<Record<string, readonly number[]>>): void {
    this.#membership?.revoke();
    this.#counts.joins++;
    this.#sign('lastFetchMs');
    this.#sign('lastHeartbeatMs');
    const partitions = Object.entries(assignment).flatMap(([topic, numbers]) =>
      numbers.map((partition) => ({ topic, partition })),
    );
    // The client keeps pauses over a join.
    consumer.resume(consumer.paused());
    this.#membership = new Membership(
      {
        options: this.#options,
        limits: this.#limits,
        counts: this.#counts,
        logger: this.#client.logger,
        consumer,
        now: Date.now,
        onProgress: () => this.#sign('lastProgressMs'),
        onFatal: (error) => this.#fatal(error),
      },
      partitions,
    );
    this.#client.logger.info({ groupId: this.#options.groupId, partitions: partitions.length }, 'joined the group');
    this.#options.onAssigned?.(partitions);
  }

  async #look(): Promise<void> {
    if (this.#isWatching || this.#isOver) return;
    this.#isWatching = true;
    try {
      await waitAtMost(this.#readEnds(), this.#limits.watchEveryMs);
      const nowMs = Date.now();
      const isBehind = this.lag().some(({ messages }) => messages !== null && messages > 0);
      this.#signs.behindSinceMs = isBehind ? (this.#signs.behindSinceMs ?? nowMs) : null;
      if (nowMs - this.#lastRestartMs > 5 * this.#limits.stuckAfterMs) this.#recentRestarts = 0;
      const reason = judgeLife(this.#signs, nowMs, this.#limits.stuckAfterMs);
      if (reason !== null && !this.#isOver) await this.#restart(reason);
    } finally {
      this.#isWatching = false;
    }
  }

  /** Asks on a connection of its own, so that it is known of messages that the consumer never gets. */
  async #readEnds(): Promise<void> {
    for (const topic of this.#options.topics) {
      for (const { partition, high } of await this.#admin.fetchTopicOffsets(topic)) {
        const lane = this.#membership?.lanes.get(laneKey({ topic, partition }));
        if (lane !== undefined) lane.endOffset = Math.max(lane.endOffset, Number(high));
      }
    }
  }

  async #restart(reason: string): Promise<void> {
    const { logger } = this.#client;
    this.#recentRestarts++;
    this.#lastRestartMs = Date.now();
    if (this.#recentRestarts > this.#limits.restarts) {
      this.#fatal(
        new OperatingError(`The consumer stands still again and again (${reason}).`, {
          code: 'kafka-consumer-ended',
          remedy: 'Start the program again; see its log, and whether the brokers and the store answer.',
        }),
      );
      return;
    }
    this.#counts.restarts++;
    logger.error({ reason, restart: this.#recentRestarts }, 'the consumer stands still; starting it anew');
    this.#membership?.revoke();
    await this.#leave();
    if (this.#isOver) return;
    try {
      await this.#join();
    } catch (error) {
      logger.error({ err: error }, 'the consumer could not be started anew');
    }
    // Stopped while it joined.
    if (this.#isOver) await this.#leave();
  }

  async #leave(): Promise<void> {
    const consumer = this.#consumer;
    this.#consumer = null;
    if (consumer !== null) await waitAtMost(consumer.disconnect(), leaveWithinMs);
  }

  #end(): void {
    this.#isOver = true;
    if (this.#watch !== null) clearInterval(this.#watch);
    this.#watch = null;
  }

  #fatal(error: Error): void {
    if (this.#isOver) return;
    this.#end();
    this.#membership?.revoke();
    void this.#leave();
    this.#options.onFatal(error);
  }
}
