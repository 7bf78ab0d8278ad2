/** Names of deliveries and threads, the same after any crash. */

import { createHash } from 'node:crypto';

/** Characters of the digest; 128 bits tell any number of messages apart. */
const digestLength = 32;

/** The id of one step's message to one destination. */
export function deliveryId(episodeId: string, sequence: number, destinationId: string): string {
  return `msg_${digest(JSON.stringify([episodeId, sequence, destinationId]))}`;
}

/** The name of an alert's thread in mail headers. */
export function threadName(episodeId: string): string {
  return `thread-${digest(episodeId)}`;
}

/** The id of a mail that puts several messages together. */
export function digestId(deliveryIds: readonly string[]): string {
  return `sum_${digest(JSON.stringify([...deliveryIds].sort()))}`;
}

function digest(text: string): string {
  return createHash('sha256').update(text).digest('hex').slice(0, digestLength);
}
