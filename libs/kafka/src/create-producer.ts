/** Sending: idempotent, acknowledged by all replicas in sync, in batches, with a bounded queue. */

import { OperatingError } from '@warmbrick/runtime';
import type { KafkaClient } from './create-kafka.js';
import { type Compression, openSender, type Sender } from './open-sender.js';
import { waitAtMost } from './wait-at-most.js';

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
  readonly headers?: Readonly<Record<string, string>>;
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

/**
 * Connects a producer. One batch is under way at a time, so order and idempotence hold whatever is repeated; while no
 * broker answers it goes on trying, and the queue fills.
 *
 * Errors: OperatingError `kafka-unavailable`, retriable, when no broker answers at the start.
 */
export async function createProducer(client: KafkaClient, options: ProducerOptions = {}): Promise<Producer> {
  const limits = { ...usual, ...options };
  return new QueuedProducer(await openSender(client, limits.compression), limits);
}

class QueuedProducer implements Producer {
  readonly #sender: Sender;
  readonly #limits: Required<ProducerOptions>;
  readonly #queue: Waiting[] = [];
  readonly #forRoom: (() => void)[] = [];
  #bytes = 0;
  #sent = 0;
  #failed = 0;
  #isClosed = false;
  #sending: Promise<void> | null = null;

  constructor(sender: Sender, limits: Required<ProducerOptions>) {
    this.#sender = sender;
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
    await waitAtMost(this.#sender.close(), withinMs);
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
      await this.#sendAll(batch);
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

  async #sendAll(batch: readonly Waiting[]): Promise<void> {
    const byTopic = groupByTopic(batch);
    await Promise.all(
      [...byTopic].map(([topic, messages]) =>
        this.#sender.send(topic, messages, (part, error) => {
          if (error === null) this.#sent += part.length;
          else this.#failed += part.length;
          for (const message of part) {
            if (error === null) message.resolve();
            else message.reject(refusedError(error));
          }
        }),
      ),
    );
  }
}

function groupByTopic(batch: readonly Waiting[]): Map<string, Waiting[]> {
  const byTopic = new Map<string, Waiting[]>();
  for (const message of batch) {
    const messages = byTopic.get(message.topic);
    if (messages === undefined) byTopic.set(message.topic, [message]);
    else messages.push(message);
  }
  return byTopic;
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
