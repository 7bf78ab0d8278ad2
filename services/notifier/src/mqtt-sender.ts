/** Publishing on an MQTT broker, confirmed message by message. */

import { type Logger, OperatingError } from '@warmbrick/runtime';
import { connectAsync } from 'mqtt';

export interface MqttSender {
  /** Resolves when the broker has confirmed. Errors: throws when it did not in time. */
  send(topic: string, body: string): Promise<void>;
  stop(): Promise<void>;
}

/** Longest waits, ms. Source: engineering judgement. */
const connectMs = 10_000;
const confirmMs = 15_000;
const reconnectMs = 2000;

/** Connects, and connects again whenever the connection breaks. Errors: OperatingError `service-unreachable`. */
export async function startMqttSender(
  url: string,
  login: { readonly username?: string | undefined; readonly password?: string | undefined },
  logger: Pick<Logger, 'warn'>,
): Promise<MqttSender> {
  const client = await connectAsync(url, {
    ...(login.username === undefined ? {} : { username: login.username }),
    ...(login.password === undefined ? {} : { password: login.password }),
    connectTimeout: connectMs,
    reconnectPeriod: reconnectMs,
    // A message that could not be sent is tried again by us; the client must not send it behind our back.
    queueQoSZero: false,
    clean: true,
  }).catch((cause: Error) => {
    throw new OperatingError(`The MQTT broker at ${new URL(url).host} does not answer: ${cause.message}`, {
      code: 'service-unreachable',
      isRetriable: true,
      remedy: 'Start the broker, or correct its address.',
      cause,
    });
  });
  client.on('error', (error) =>
    logger.warn({ detail: error.message }, 'the connection to the MQTT broker has trouble'),
  );
  return {
    async send(topic, body) {
      if (!client.connected) throw new Error('not connected');
      let timer: NodeJS.Timeout | undefined;
      const late = new Promise<never>((_, reject) => {
        timer = setTimeout(() => reject(new Error('not confirmed in time')), confirmMs);
      });
      try {
        await Promise.race([client.publishAsync(topic, body, { qos: 1 }), late]);
      } finally {
        clearTimeout(timer);
      }
    },
    stop: () => client.endAsync(true).catch(() => {}),
  };
}
