/** Sending: idempotent, acknowledged by all replicas in sync, in batches, with a bounded queue. */

import { OperatingError } from '@warmbrick/runtime';
import { CompressionTypes, Partitioners } from 'kafkajs';
import type { KafkaClient } from './create-kafka.js';
import { waitAtMost } from './wait-at-most.js';

export const compressions = ['none', 'gzip', 'snappy', 'lz4', 'zstd'] as const;
export type Compression = (typeof compressions)[number];

export interface ProducerOptions {
  readonly compression?: Compression;
  /** Bounds of what waits to be sent; `send` waits for room. */
  readonly queuedMessages?: number;
  readonly queuedBytes?: number;
  /** Messages and bytes of one request at most. */
  readonly batchMessages?: number;
  readonly batchBytes?: number;
}

export interface OutgoingMessage {
  readonly topic: string;
  /** Messages of one key keep their order. */
  readonly key: string;
  readonly value: string | Buffer;
}

export interface Producer {
  /**
   * Resolves when the message is acknowledged; waits first while the queue is full, for as long as that takes.
   *
   * Errors: OperatingError `kafka-refused` when the brokers will never take it, `kafka-unavailable` when closed before it
   * was acknowledged: it may have been taken all the same.
   */
  send(message: OutgoingMessage): Promise<void>;
  stats(): ProducerStats;
  /** Sends what is queued, for `withinMs` at most, and disconnects. */
  close(withinMs?: number): Promise<void>;
}

export interface ProducerStats {
  readonly queuedMessages: number;
  readonly queuedBytes: number;
  readonly sentMessages: number;
  readonly failedMessages: number;
}

/** Source of the bounds: engineering judgement; a broker takes requests of 1 MiB by default. */
const usual = {
  compression: 'gzip',
  queuedMessages: 20_000,
  queuedBytes: 32 * 1024 * 1024,
  batchMessages: 2000,
  batchBytes: 768 * 1024,
} as const;
const closeWithinMs = 10_000;

interface Waiting extends OutgoingMessage {
  readonly bytes: number;
  readonly resolve: () => void;
  readonly reject: (error: Error) => void;
}

const codecs: Readonly<Record<Compression, CompressionTypes>> = {
  none: CompressionTypes.None,
  gzip: CompressionTypes.GZIP,
  snappy: CompressionTypes.Snappy,
  lz4: CompressionTypes.LZ4,
  zstd: CompressionTypes.ZSTD,
};

/**
 * Connects a producer. One request is under way at a time, so order and idempotence hold whatever is repeated; while no
 * broker answers it goes on trying, and the queue fills.
 *
 * Errors: OperatingError `kafka-unavailable`, retriable, when no broker answers at the start.
 */
export async function createProducer(client: KafkaClient, options: ProducerOptions = {}): Promise<Producer> {
  const producer = client.kafka.producer({
    idempotent: true,
    maxInFlightRequests: 1,
    createPartitioner: Partitioners.DefaultPartitioner,
    // Giving up a request would leave a hole in the sequence of an idempotent producer.
    retry: { retries: Number.MAX_SAFE_INTEGER, initialRetryTime: 100, maxRetryTime: 5000 },
  });
  const admin = client.kafka.admin();
  try {
    // The producer itself would try for ever.
    await admin.connect();
    await producer.connect();
  } catch (error) {
    throw new OperatingError('No Kafka broker answers.', {
      code: 'kafka-unavailable',
      isRetriable: true,
      remedy: 'Check the broker addresses.',
      cause: error,
    });
  } finally {
    await admin.disconnect().catch(() => {});
  }
  return new QueuedProducer(producer, { ...usual, ...options });
}

class QueuedProducer implements Producer {
  readonly #producer: ReturnType<KafkaClient['kafka']['producer']>;
  readonly #limits: Required<ProducerOptions>;
  readonly #queue: Waiting[] = [];
  readonly #forRoom: (() => void)[] = [];
  #bytes = 0;
  #sent = 0;
  #failed = 0;
  #isClosed = false;
  #sending: Promise<void> | null = null;

  constructor(producer: ReturnType<KafkaClient['kafka']['producer']>, limits: Required<ProducerOptions>) {
    this.#producer = producer;
    this.#limits = limits;
  }

  async send(message: OutgoingMessage): Promise<void> {
    const bytes = Buffer.byteLength(message.value) + Buffer.byteLength(message.key);
    while (!this.#isClosed && !this.#hasRoom(bytes)) {
      await new Promise<void>((resolve) => this.#forRoom.push(resolve));
    }
    if (this.#isClosed) throw closedError();
    await new Promise<void>((resolve, reject) => {
      this.#queue.push({ ...message, bytes, resolve, reject });
      this.#bytes += bytes;
      this.#sending ??= this.#drain();
    });
  }

  stats(): ProducerStats {
    return {
      queuedMessages: this.#queue.length,
      queuedBytes: this.#bytes,
      sentMessages: this.#sent,
      failedMessages: this.#failed,
    };
  }

  async close(withinMs = closeWithinMs): Promise<void> {
    this.#isClosed = true;
    this.#wakeAll();
    await waitAtMost(this.#sending ?? Promise.resolve(), withinMs);
    for (const message of this.#queue.splice(0)) message.reject(closedError());
    await waitAtMost(this.#producer.disconnect(), withinMs);
  }

  /** A message larger than the whole queue is let in alone. */
  #hasRoom(bytes: number): boolean {
    if (this.#queue.length === 0) return true;
    return this.#queue.length < this.#limits.queuedMessages && this.#bytes + bytes <= this.#limits.queuedBytes;
  }

  #wakeAll(): void {
    for (const wake of this.#forRoom.splice(0)) wake();
  }

  async #drain(): Promise<void> {
    // A turn of the event loop, so that messages sent together travel together.
    await new Promise((resolve) => setImmediate(resolve));
    while (this.#queue.length > 0) {
      const batch = this.#queue.slice(0, this.#batchLength());
      try {
        await this.#request(batch);
        this.#sent += batch.length;
        for (const message of batch) message.resolve();
      } catch (error) {
        this.#failed += batch.length;
        for (const message of batch) message.reject(refusedError(error));
      }
      this.#queue.splice(0, batch.length);
      for (const message of batch) this.#bytes -= message.bytes;
      this.#wakeAll();
    }
    this.#sending = null;
  }

  #batchLength(): number {
    let bytes = 0;
    let length = 0;
    while (length < this.#queue.length && length < this.#limits.batchMessages) {
      bytes += (this.#queue[length] as Waiting).bytes;
      if (length > 0 && bytes > this.#limits.batchBytes) break;
      length++;
    }
    return length;
  }

  async #request(batch: readonly Waiting[]): Promise<void> {
    const byTopic = new Map<string, { key: string; value: string | Buffer }[]>();
    for (const { topic, key, value } of batch) {
      const messages = byTopic.get(topic) ?? [];
      messages.push({ key, value });
      byTopic.set(topic, messages);
    }
    await this.#producer.sendBatch({
      acks: -1,
      compression: codecs[this.#limits.compression],
      topicMessages: [...byTopic].map(([topic, messages]) => ({ topic, messages })),
    });
  }
}

function closedError(): OperatingError {
  return new OperatingError('The producer was closed before the message was acknowledged.', {
    code: 'kafka-unavailable',
    isRetriable: true,
    remedy: 'Send it again; it may arrive twice.',
  });
}

function refusedError(cause: unknown): OperatingError {
  return new OperatingError('The brokers do not take the messages.', {
    code: 'kafka-refused',
    remedy: 'Check that the topic exists, that this program may write to it, and the size of the messages.',
    cause,
  });
}
