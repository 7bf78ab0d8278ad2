/** Rejected messages to the topic that hears of them. */

import { makeRejectMessage, type RejectReason, rejectReasons, topics } from '@warmbrick/contracts';
import type { Producer } from '@warmbrick/kafka';
import { OperatingError } from '@warmbrick/runtime';
import type { RejectedMessage } from '@warmbrick/store';
import type { IngestLogger } from '../ingest-types.js';

export interface PublishOptions {
  readonly producer: Pick<Producer, 'send'>;
  /** Default: the topic of rejects of version 1. */
  readonly topic?: string;
  readonly logger: Pick<IngestLogger, 'error'>;
}

/**
 * Sends rejects; resolves when the brokers have them. What they refuse for good is in the table all the same; it must not
 * stop the stream.
 *
 * Errors: those of the producer.
 */
export async function publishRejects(
  { producer, topic = topics.rejects, logger }: PublishOptions,
  rejects: readonly RejectedMessage[],
): Promise<void> {
  const sent = await Promise.allSettled(
    rejects.map((one) => producer.send({ topic, key: one.key ?? '', value: JSON.stringify(rejectMessage(one)) })),
  );
  for (const outcome of sent) {
    if (outcome.status === 'fulfilled') continue;
    const error = outcome.reason as unknown;
    if (!(error instanceof OperatingError) || error.code !== 'kafka-refused') throw error;
    logger.error({ topic, err: error }, 'a reject is in the table only');
    return;
  }
}

const known = new Set<string>(rejectReasons);

/** Its source is named as in the store: kind and topic, with a slash between. A reason of another way in is one of shape. */
function rejectMessage({ source, partition, offset, reason, detail, key, payload, atMs }: RejectedMessage) {
  const slash = source.indexOf('/');
  const position = { source: source.slice(0, slash), topic: source.slice(slash + 1), partition, offset };
  const listed = known.has(reason) ? (reason as RejectReason) : 'bad-shape';
  return makeRejectMessage({ reason: listed, detail, position, key, payload, atMs });
}
