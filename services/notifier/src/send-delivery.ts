/** One try of a delivery, by the kind of its destination. */

import type { Delivery, Destination } from '@warmbrick/store';
import { digestId, threadName } from './delivery-id.js';
import { type RenderedMail, renderDigest } from './mail/render-mail.js';
import type { MailSender } from './mail/send-mail.js';
import { cloudEventContentType } from './render-webhook.js';
import type { AddressGuard } from './webhook/address-guard.js';
import { type CallOutcome, postWebhook, type WebhookLimits } from './webhook/post-webhook.js';
import { webhookHeaders } from './webhook/sign-webhook.js';

/** What messages go out through; what is not configured is null. */
export interface Channels {
  readonly mail: MailSender | null;
  /** Resolves when the broker has confirmed. */
  readonly mqtt: ((topic: string, body: string) => Promise<void>) | null;
  readonly isAllowed: AddressGuard;
  readonly webhookLimits: WebhookLimits;
}

const userAgent = 'Warmbrick/1';

/**
 * Sends one delivery, or several of one mail destination together. Never throws.
 *
 * @param nowMs the wall clock of this try
 */
export function sendDeliveries(
  deliveries: readonly [Delivery, ...Delivery[]],
  destination: Destination,
  { channels, nowMs }: { readonly channels: Channels; readonly nowMs: number },
): Promise<CallOutcome> {
  const [delivery] = deliveries;
  switch (destination.kind) {
    case 'webhook': {
      const headers = {
        'Content-Type': cloudEventContentType,
        'User-Agent': userAgent,
        ...webhookHeaders(destination.secrets, { id: delivery.id, atMs: nowMs, body: delivery.body }),
      };
      return postWebhook(
        { url: destination.address, headers, body: delivery.body },
        channels.isAllowed,
        channels.webhookLimits,
      );
    }
    case 'mail':
      return sendMail(deliveries, destination, channels.mail);
    case 'mqtt':
      return publish(delivery, destination, channels.mqtt);
  }
}

async function sendMail(
  deliveries: readonly [Delivery, ...Delivery[]],
  destination: Destination,
  sender: MailSender | null,
): Promise<CallOutcome> {
  if (sender === null) return failed('not-configured', 'no mail server is configured');
  const mails = deliveries.map(({ subject, text, body }): RenderedMail => ({ subject, text, html: body }));
  const [first] = deliveries;
  const isAlone = deliveries.length === 1;
  return sender.send({
    ...(isAlone ? (mails[0] as RenderedMail) : renderDigest(mails)),
    to: destination.address,
    id: isAlone ? first.id : digestId(deliveries.map(({ id }) => id)),
    thread: isAlone ? threadName(first.threadId) : null,
  });
}

async function publish(delivery: Delivery, destination: Destination, send: Channels['mqtt']): Promise<CallOutcome> {
  if (send === null) return failed('not-configured', 'no MQTT broker is configured');
  try {
    await send(destination.address, delivery.body);
    return { result: 'taken', status: 'confirmed', detail: '', retryAfterMs: null };
  } catch (error) {
    return failed('mqtt', (error as Error).message);
  }
}

function failed(status: string, detail: string): CallOutcome {
  return { result: 'failed', status, detail, retryAfterMs: null };
}
