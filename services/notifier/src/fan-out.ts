/** From steps of alerts to the messages that they lead to, rendered once. */

import type { AlertMessage } from '@warmbrick/contracts';
import type { Destination, MachinePlace, NewDelivery } from '@warmbrick/store';
import { hearersOf } from './choose-destinations.js';
import { deliveryId } from './delivery-id.js';
import { renderMail } from './mail/render-mail.js';
import { quietUntilMs } from './quiet-hours.js';
import { renderCloudEvent } from './render-webhook.js';

export interface FanOutContext {
  readonly destinations: readonly Destination[];
  readonly places: ReadonlyMap<string, MachinePlace>;
  readonly publicUrl: string;
  /** The wall clock in epoch ms. */
  readonly nowMs: number;
}

/** The deliveries of some messages, in their order. */
export function deliveriesOf(messages: readonly AlertMessage[], context: FanOutContext): NewDelivery[] {
  // What is written in one go is not there yet when the store looks for what was heard before.
  const heard = new Set<string>();
  return messages.flatMap((message) =>
    hearersOf(message, context.places.get(message.machineId), context.destinations).map(
      ({ destination, onlyIfHeard }): NewDelivery => {
        const thread = JSON.stringify([destination.id, message.episodeId]);
        const isFollowUp = onlyIfHeard && !heard.has(thread);
        if (!isFollowUp) heard.add(thread);
        return { ...rendered(message, destination, context), onlyIfHeard: isFollowUp };
      },
    ),
  );
}

function rendered(
  message: AlertMessage,
  destination: Destination,
  { publicUrl, nowMs }: FanOutContext,
): Omit<NewDelivery, 'onlyIfHeard'> {
  const id = deliveryId(message.episodeId, message.sequence, destination.id);
  const mail = renderMail(message, publicUrl);
  return {
    id,
    destinationId: destination.id,
    machineId: message.machineId,
    threadId: message.episodeId,
    subject: mail.subject,
    text: mail.text,
    body: destination.kind === 'mail' ? mail.html : renderCloudEvent(message, id, publicUrl),
    availableMs: dueMs(message, destination, nowMs),
  };
}

/** After quiet hours unless it is severe, and at the end of a digest's span. */
function dueMs(message: AlertMessage, { quiet, kind, digestMinutes }: Destination, nowMs: number): number {
  const isUrgent = message.severity === 'severe' && message.notice === 'page';
  const fromMs = (quiet === null || isUrgent ? null : quietUntilMs(minutesOf(quiet), nowMs)) ?? nowMs;
  if (kind !== 'mail' || digestMinutes === null || isUrgent) return fromMs;
  const spanMs = digestMinutes * 60_000;
  return Math.ceil(fromMs / spanMs) * spanMs;
}

function minutesOf({ timeZone, from, to }: NonNullable<Destination['quiet']>) {
  const minute = (clock: string) => Number(clock.slice(0, 2)) * 60 + Number(clock.slice(3, 5));
  return { timeZone, fromMinute: minute(from), toMinute: minute(to) };
}
