/** Outbox -> topic of findings: at least once, each message with an identity that stays the same. */

import { setTimeout as sleep } from 'node:timers/promises';
import { type FindingMessage, toFindingDocument } from '@warmbrick/contracts';
import type { Producer } from '@warmbrick/kafka';
import { OperatingError } from '@warmbrick/runtime';
import type { FindingNews, OutboxLease, OutboxMessage, Store } from '@warmbrick/store';
import type { IngestLogger } from '../ingest-types.js';

export interface PublisherLimits {
  /** Messages taken at once. */
  readonly batch: number;
  /** How long they are ours, ms. */
  readonly leaseMs: number;
  /** Between looks while there is nothing, ms. */
  readonly pollMs: number;
  /** Wait before a message that was refused is tried again, ms; and after a failure of the store. */
  readonly retryMs: number;
}

/** Source: engineering judgement. */
const usualPublisherLimits: PublisherLimits = { batch: 500, leaseMs: 30_000, pollMs: 500, retryMs: 5000 };

export interface PublisherOptions {
  readonly store: Pick<Store, 'settleOutbox' | 'failOutbox'> & {
    takeOutbox(lease: OutboxLease): Promise<OutboxMessage[]>;
  };
  readonly producer: Pick<Producer, 'send'>;
  readonly topic: string;
  /** Name of the process, for whoever looks into the outbox. */
  readonly owner: string;
  readonly logger: IngestLogger;
  readonly limits?: Partial<PublisherLimits>;
  readonly onSent?: (count: number) => void;
}

export interface FindingsPublisher {
  stats(): { readonly sent: number; readonly failed: number };
  /** Ends after what is under way. */
  stop(): Promise<void>;
}

/** Header that names a message: the finding's id and the revision, the same at each delivery. */
export const newsIdHeader = 'news-id';

/**
 * Sends on what commits have put into the outbox, until stopped. An end at any place loses nothing: what was sent and not
 * settled is sent again with the same id. Of two messages about a finding the one with the higher revision counts.
 */
export function startFindingsPublisher(options: PublisherOptions): FindingsPublisher {
  const limits = { ...usualPublisherLimits, ...options.limits };
  const stopping = new AbortController();
  const { signal } = stopping;
  const counts = { sent: 0, failed: 0 };
  const rest = (ms: number) => sleep(ms, undefined, { signal }).catch(() => {});
  const run = async () => {
    while (!signal.aborted) {
      try {
        const taken = await sendSome(options, limits, counts);
        if (taken < limits.batch) await rest(limits.pollMs);
      } catch (error) {
        // What is leased comes again when the lease is over.
        const isPassing = error instanceof OperatingError && error.isRetriable;
        options.logger[isPassing ? 'warn' : 'error']({ err: error }, 'news of findings were not sent; trying again');
        await rest(limits.retryMs);
      }
    }
  };
  const running = run();
  return {
    stats: () => ({ ...counts }),
    async stop() {
      stopping.abort();
      await running;
    },
  };
}

/** Errors: those of the store, and of a producer that was closed. */
async function sendSome(
  { store, producer, topic, owner, logger, onSent }: PublisherOptions,
  limits: PublisherLimits,
  counts: { sent: number; failed: number },
): Promise<number> {
  const taken = await store.takeOutbox({ limit: limits.batch, leaseMs: limits.leaseMs, owner });
  const outcomes = await Promise.allSettled(taken.map((message) => producer.send(outgoing(topic, message))));
  const { sent, failed } = sort(taken, outcomes);
  await store.settleOutbox(sent);
  counts.sent += sent.length;
  counts.failed += failed.length;
  if (sent.length > 0) onSent?.(sent.length);
  if (failed.length > 0) {
    logger.error({ topic, failed: failed.length }, 'the brokers do not take news of findings');
    await store.failOutbox(failed, Date.now() + limits.retryMs);
  }
  return taken.length;
}

/** After a message that failed, later ones of its key count as failed too: their order is part of what they say. */
function sort(taken: readonly OutboxMessage[], outcomes: readonly PromiseSettledResult<void>[]) {
  const failedKeys = new Set<string>();
  const sent: number[] = [];
  const failed: number[] = [];
  for (const [at, { id, key }] of taken.entries()) {
    if (outcomes[at]?.status === 'rejected') failedKeys.add(key);
    if (failedKeys.has(key)) failed.push(id);
    else sent.push(id);
  }
  return { sent, failed };
}

function outgoing(topic: string, message: OutboxMessage) {
  const { key, findingId, revision, payload } = message;
  return {
    topic,
    key,
    value: JSON.stringify(toMessage(payload)),
    headers: { [newsIdHeader]: `${findingId}.${revision}`, revision: String(revision) },
  };
}

function toMessage(news: FindingNews): FindingMessage {
  if (news.type === 'withdrawn') return { type: 'withdrawn', machineId: news.machineId, findingId: news.findingId };
  return { type: 'made', machineId: news.machineId, finding: toFindingDocument(news.finding) };
}
