/** Rejected messages of gateways into the table, and the topic where there is one, as those of Kafka. */

import { createHash } from 'node:crypto';
import type { RejectedMessage, Store } from '@warmbrick/store';
import type { IntakeReject } from '../messages/reject-list.js';
import type { MqttMessage, OnReject } from './take-messages.js';

export interface KeepRejectsOptions {
  readonly store: Pick<Store, 'commit'>;
  /** Makes them known beside the table. */
  readonly publish?: ((rejects: readonly RejectedMessage[]) => Promise<void>) | undefined;
  /** The wall clock, UTC epoch ms. */
  readonly now?: () => number;
}

/** Bytes of a digest that a whole number holds exactly. */
const digestBytes = 6;

/**
 * Makes the listener that keeps what MQTT intake rejects. A message that comes again is kept once: the place of a reject is
 * made of what was said, since MQTT gives messages no number that lasts.
 *
 * Errors: of the listener, those of the store and of `publish`.
 */
export function keepMqttRejects({ store, publish, now = Date.now }: KeepRejectsOptions): OnReject {
  return async (reject, message) => {
    const rejects = [rejectedMessage(reject, message, now())];
    await publish?.(rejects);
    await store.commit([], { rejects });
  };
}

function rejectedMessage(reject: IntakeReject, { topic, payload }: MqttMessage, atMs: number): RejectedMessage {
  const { reason, where, detail } = reject;
  const digest = createHash('sha256').update(`${topic}\n${reason}\n${where}\n${detail}\n`).update(payload).digest();
  return {
    source: `mqtt/${topic}`,
    partition: 0,
    offset: digest.readUIntBE(0, digestBytes),
    reason,
    detail: where === 'message' ? detail : `${where}: ${detail}`,
    key: null,
    payload,
    atMs,
  };
}
