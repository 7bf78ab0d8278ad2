/** The body of a webhook or MQTT message. Source: CloudEvents 1.0, JSON event format. */

import type { AlertMessage } from '@warmbrick/contracts';

/** Content type of a structured event. Source: CloudEvents 1.0, HTTP protocol binding, 3.2. */
export const cloudEventContentType = 'application/cloudevents+json; charset=utf-8';

/**
 * The event as it is sent, byte by byte the same at each try.
 *
 * @param id the delivery's
 * @param publicUrl address under which people reach the service, without a slash at its end
 */
export function renderCloudEvent(message: AlertMessage, id: string, publicUrl: string): string {
  const { links, ...rest } = message;
  return JSON.stringify({
    specversion: '1.0',
    id,
    source: publicUrl,
    type: `warmbrick.alert.${message.step}.v1`,
    subject: message.machineId,
    time: message.learnedAt,
    datacontenttype: 'application/json',
    data: {
      ...rest,
      links: { alert: publicUrl + links.alert, page: publicUrl + links.page, machine: publicUrl + links.machine },
    },
  });
}
