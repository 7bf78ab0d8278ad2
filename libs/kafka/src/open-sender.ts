/** Sending batches so that a retry neither loses nor doubles a message: one request a partition, repeated as it is. */

import { setTimeout as sleep } from 'node:timers/promises';
import { OperatingError } from '@warmbrick/runtime';
import { type Admin, CompressionTypes, Partitioners, type Producer } from 'kafkajs';
import type { KafkaClient } from './create-kafka.js';

export const compressions = ['none', 'gzip', 'snappy', 'lz4', 'zstd'] as const;
export type Compression = (typeof compressions)[number];

interface KeyedMessage {
  readonly key: string;
  readonly value: string | Buffer;
  readonly headers?: Readonly<Record<string, string>>;
}

export interface Sender {
  /**
   * Sends messages of one topic and tells of each part what became of it, in no order of parts; tries again for as long
   * as that can help.
   */
  send<T extends KeyedMessage>(
    topic: string,
    messages: readonly T[],
    onSettled: (part: readonly T[], error: Error | null) => void,
  ): Promise<void>;
  /** Gives up what is under way. */
  close(): Promise<void>;
}

/** How long the number of a topic's partitions is believed, ms. Source: engineering judgement. */
const partitionsGoodForMs = 300_000;
const firstRetryMs = 100;
const longestRetryMs = 5000;
/** Tries of the client before it is our turn again. */
const clientRetries = 3;
/**
 * Answers after which the producer's numbering is of no use any more; a new producer begins a new one.
 * Source: Kafka protocol, error codes 45, 47, 59.
 */
const lostNumbering = ['OUT_OF_ORDER_SEQUENCE_NUMBER', 'INVALID_PRODUCER_EPOCH', 'UNKNOWN_PRODUCER_ID'];

const codecs: Readonly<Record<Compression, CompressionTypes>> = {
  none: CompressionTypes.None,
  gzip: CompressionTypes.GZIP,
  snappy: CompressionTypes.Snappy,
  lz4: CompressionTypes.LZ4,
  zstd: CompressionTypes.ZSTD,
};

/** Connects. Errors: OperatingError `kafka-unavailable`, retriable, when no broker answers. */
export async function openSender(client: KafkaClient, compression: Compression): Promise<Sender> {
  const sender = new PartitionSender(client, codecs[compression]);
  await sender.connect();
  return sender;
}

class PartitionSender implements Sender {
  readonly #client: KafkaClient;
  readonly #compression: CompressionTypes;
  readonly #admin: Admin;
  readonly #choosePartition = Partitioners.DefaultPartitioner();
  readonly #partitions = new Map<string, { count: number; untilMs: number }>();
  #producer: Producer;
  #renewing: Promise<void> | null = null;
  #isClosed = false;

  constructor(client: KafkaClient, compression: CompressionTypes) {
    this.#client = client;
    this.#compression = compression;
    this.#admin = client.kafka.admin();
    this.#producer = createIdempotent(client);
  }

  async connect(): Promise<void> {
    try {
      await this.#admin.connect();
      await this.#producer.connect();
    } catch (error) {
      await this.close();
      throw new OperatingError('No Kafka broker answers.', {
        code: 'kafka-unavailable',
        isRetriable: true,
        remedy: 'Check the broker addresses.',
        cause: error,
      });
    }
  }

  async close(): Promise<void> {
    this.#isClosed = true;
    await Promise.allSettled([this.#producer.disconnect(), this.#admin.disconnect()]);
  }

  async send<T extends KeyedMessage>(
    topic: string,
    messages: readonly T[],
    onSettled: (part: readonly T[], error: Error | null) => void,
  ): Promise<void> {
    const count = await this.#untilItWorks(() => this.#countPartitions(topic));
    if (count instanceof Error) return onSettled(messages, count);
    const parts = this.#split(topic, messages, count);
    await Promise.all(
      [...parts].map(async ([partition, part]) => {
        const outcome = await this.#untilItWorks(() => this.#sendPart(topic, partition, part));
        onSettled(part, outcome instanceof Error ? outcome : null);
      }),
    );
  }

  /**
   * One partition a request. In one request for several, the client takes a partition that moves to a broker which has
   * answered already for sent, though it was not; and a repeated request must number its messages as it did at first.
   */
  async #sendPart(topic: string, partition: number, part: readonly KeyedMessage[]): Promise<void> {
    await this.#producer.send({
      topic,
      acks: -1,
      compression: this.#compression,
      messages: part.map(({ key, value, headers = {} }) => ({ key, value, partition, headers: { ...headers } })),
    });
  }

  /** The result, or the error that no repetition mends. */
  async #untilItWorks<R>(attempt: () => Promise<R>): Promise<R | Error> {
    for (let waitMs = firstRetryMs; ; waitMs = Math.min(waitMs * 2, longestRetryMs)) {
      try {
        return await attempt();
      } catch (error) {
        const root = rootOf(error);
        const isNumberingLost = lostNumbering.includes(root.type ?? '');
        if (this.#isClosed || (isFinal(root) && !isNumberingLost)) return root;
        this.#client.logger.warn({ err: root, waitMs }, 'Kafka did not take messages; trying again');
        if (isNumberingLost) await this.#renew();
        await sleep(waitMs);
      }
    }
  }

  #split<T extends KeyedMessage>(topic: string, messages: readonly T[], count: number): Map<number, T[]> {
    const partitionMetadata = Array.from({ length: count }, (_, partitionId) => ({ ...anyLeader, partitionId }));
    const parts = new Map<number, T[]>();
    for (const message of messages) {
      const partition = this.#choosePartition({ topic, partitionMetadata, message });
      const part = parts.get(partition);
      if (part === undefined) parts.set(partition, [message]);
      else part.push(message);
    }
    return parts;
  }

  async #countPartitions(topic: string): Promise<number> {
    const known = this.#partitions.get(topic);
    if (known !== undefined && Date.now() < known.untilMs) return known.count;
    const { topics } = await this.#admin.fetchTopicMetadata({ topics: [topic] });
    const count = topics[0]?.partitions.length ?? 0;
    this.#partitions.set(topic, { count, untilMs: Date.now() + partitionsGoodForMs });
    return count;
  }

  async #renew(): Promise<void> {
    this.#renewing ??= (async () => {
      await this.#producer.disconnect().catch(() => {});
      this.#producer = createIdempotent(this.#client);
      await this.#producer.connect();
    })().finally(() => {
      this.#renewing = null;
    });
    await this.#renewing.catch(() => {});
  }
}

/** The partitioner looks at the number of partitions only, as every message has a key. */
const anyLeader = { partitionErrorCode: 0, leader: 0, replicas: [], isr: [] };

function createIdempotent(client: KafkaClient): Producer {
  return client.kafka.producer({
    idempotent: true,
    maxInFlightRequests: 1,
    createPartitioner: Partitioners.DefaultPartitioner,
    // The client warns that this breaks its promises. It does not: the same part is sent again with the same numbers until
    // it is acknowledged. Without an end, the client would go on trying after it was closed.
    retry: { retries: clientRetries, initialRetryTime: firstRetryMs, maxRetryTime: longestRetryMs },
  });
}

type ClientError = Error & { readonly type?: string; readonly retriable?: boolean };

/** The client wraps errors in others that say "not retriable" of a refused connection. */
function rootOf(error: unknown): ClientError {
  const cause = error instanceof Error ? error.cause : undefined;
  return cause instanceof Error ? rootOf(cause) : error instanceof Error ? error : new Error(String(error));
}

/** A broker's answer that stays the same however often it is asked. */
function isFinal(error: ClientError): boolean {
  return error.name === 'KafkaJSProtocolError'
    ? error.retriable === false || error.type === 'UNKNOWN_TOPIC_OR_PARTITION'
    : error instanceof TypeError;
}
