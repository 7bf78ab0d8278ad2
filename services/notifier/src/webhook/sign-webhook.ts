/** Headers by which a receiver knows that a webhook is ours and new. Source: Standard Webhooks specification 1.0. */

import { randomBytes } from 'node:crypto';
import { Webhook } from 'standardwebhooks';

/** Bytes of a secret. Source: Standard Webhooks specification, "Signature scheme": 24 to 64. */
const secretBytes = 32;

/** A new secret in its written form. */
export function newWebhookSecret(): string {
  return `whsec_${randomBytes(secretBytes).toString('base64')}`;
}

/**
 * Signs with every live secret, newest first, so that a receiver may change over at leisure.
 *
 * @param message its stable id, the time of this try (the wall clock in epoch ms) and the body as it is sent
 */
export function webhookHeaders(
  secrets: readonly string[],
  message: { readonly id: string; readonly atMs: number; readonly body: string },
): Record<string, string> {
  const at = new Date(message.atMs);
  return {
    'webhook-id': message.id,
    'webhook-timestamp': String(Math.floor(message.atMs / 1000)),
    'webhook-signature': secrets.map((secret) => new Webhook(secret).sign(message.id, at, message.body)).join(' '),
  };
}
