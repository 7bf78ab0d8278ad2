/** Reads topics through the consumer into lists, with a store in memory. */

import { setTimeout as sleep } from 'node:timers/promises';
import {
  type ConsumerLimits,
  type ConsumerOptions,
  type IncomingMessage,
  type PartitionBatch,
  type RunningConsumer,
  runConsumer,
  type TopicPartition,
} from '@warmbrick/kafka';
import { OperatingError } from '@warmbrick/runtime';
import type { TestKafka } from './kafka-provider.js';

/** Positions and epochs as a store keeps them, and what was written with them. */
export class MemoryPositions {
  readonly rows = new Map<string, { nextOffset: number; epoch: number }>();
  readonly written: (IncomingMessage & TopicPartition)[] = [];

  claim = async ({ topic, partition }: TopicPartition) => {
    const row = this.#row(topic, partition);
    row.epoch++;
    return { ...row };
  };

  /** Writes the messages and moves the position, both or none. */
  commit(batch: PartitionBatch): void {
    const row = this.#row(batch.topic, batch.partition);
    if (row.epoch !== batch.epoch || row.nextOffset !== batch.expectedOffset) {
      throw new OperatingError('fenced', { code: 'fenced' });
    }
    row.nextOffset = batch.nextOffset;
    for (const message of batch.messages) {
      // A view of the fetched bytes would keep all of them.
      const value = message.value === null ? null : Buffer.from(message.value);
      this.written.push({ ...message, value, topic: batch.topic, partition: batch.partition });
    }
  }

  #row(topic: string, partition: number) {
    const key = `${topic}/${partition}`;
    const row = this.rows.get(key) ?? { nextOffset: 0, epoch: 0 };
    this.rows.set(key, row);
    return row;
  }
}

/** Limits under which lost members are missed within seconds. */
export const hasty: Partial<ConsumerLimits> = {
  // The least that a broker allows by default.
  sessionTimeoutMs: 6000,
  rebalanceTimeoutMs: 10_000,
  heartbeatMs: 300,
  fetchWaitMs: 100,
  firstRetryMs: 50,
  fencedWaitMs: 100,
  stopWithinMs: 3000,
};

export type MemberOptions = Partial<ConsumerOptions> & {
  readonly positions: MemoryPositions;
  readonly groupId: string;
  readonly topic: string;
};

/** Starts a member of a group that writes to a store in memory. */
export function startMember(kafka: TestKafka, options: MemberOptions): Promise<RunningConsumer> {
  const { positions, topic, limits, instanceName = 'member', ...rest } = options;
  return runConsumer(kafka.client(instanceName), {
    topics: [topic],
    instanceName,
    claim: positions.claim,
    handle: async (batch) => positions.commit(batch),
    onFatal: (error) => {
      throw error;
    },
    ...rest,
    limits: { ...hasty, ...limits },
  });
}

/** Waits until something holds. */
export async function until(holds: () => boolean, what: string, withinMs = 30_000): Promise<void> {
  for (const endMs = Date.now() + withinMs; !holds(); await sleep(20)) {
    if (Date.now() > endMs) throw new Error(`not within ${withinMs} ms: ${what}`);
  }
}

/** The first messages of a topic. */
export async function collectFrom(
  kafka: TestKafka,
  { topic, count }: { topic: string; count: number },
): Promise<IncomingMessage[]> {
  const positions = new MemoryPositions();
  const member = await startMember(kafka, { positions, topic, groupId: kafka.freshName('group') });
  try {
    await until(() => positions.written.length >= count, `${count} messages, have ${positions.written.length}`);
  } finally {
    await member.stop();
  }
  return positions.written;
}
