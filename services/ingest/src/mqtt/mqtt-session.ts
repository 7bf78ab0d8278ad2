/** One connection to a broker, from connecting to its end. */

import type { IPublishPacket, MqttClient } from 'mqtt';
import { connect } from 'mqtt';
import type { IngestLogger } from '../ingest-types.js';
import type { MqttSettings } from './mqtt-settings.js';
import type { MessageOutcome } from './take-message.js';

export interface SessionOptions {
  readonly settings: MqttSettings;
  /** Certificates of authorities, PEM. */
  readonly ca: Buffer | undefined;
  /** Topic filters to subscribe to. */
  readonly filters: readonly string[];
  readonly logger: IngestLogger;
  /** Takes a message to its end. Errors: the message is not acknowledged and the connection ends. */
  readonly take: (message: { topic: string; payload: Uint8Array }, signal: AbortSignal) => Promise<MessageOutcome>;
  readonly onConnected: () => void;
}

export interface Session {
  /** Resolves when the connection is gone and nothing of it is in work any more; whether it had come about. */
  readonly ended: Promise<boolean>;
  /** Takes no further message, finishes the one in work and acknowledges it, then disconnects. */
  finish(withinMs: number): Promise<void>;
}

/** How long the broker may take to answer to CONNECT, ms. Source: engineering judgement. */
const connectTimeoutMs = 20_000;
/** Source: MQTT 5.0, 3.4.2.1: reason codes of PUBACK. */
const reasonCodes: Readonly<Record<MessageOutcome['end'], number>> = { taken: 0x00, unusable: 0x99, refused: 0x83 };

/**
 * Opens a connection that acknowledges a message only after `take`, and asks for the next one only then.
 *
 * A client of the library is used for one connection only: an acknowledgement that is late for its connection can then never
 * reach the next one, where its number may stand for another message.
 */
export function openSession(options: SessionOptions): Session {
  const { settings, logger } = options;
  const ending = new AbortController();
  let isConnected = false;
  let isFinishing = false;
  let inWork: Promise<unknown> = Promise.resolve();

  const work = async (message: IPublishPacket): Promise<MessageOutcome> => {
    // Neither answered nor acknowledged: the broker keeps it for the next connection.
    if (isFinishing || ending.signal.aborted) return new Promise(() => {});
    const payload = typeof message.payload === 'string' ? Buffer.from(message.payload) : message.payload;
    const job = options.take({ topic: message.topic, payload }, ending.signal);
    inWork = job.catch(() => {});
    return job;
  };
  const client = createClient(options, work);
  keepAliveWhileWorking(client);
  client.on('connect', () => {
    isConnected = true;
    options.onConnected();
    client.subscribe([...options.filters], { qos: 1 }, (error, granted) => {
      const isRefused = error !== null || (granted ?? []).some(({ qos }) => qos >= 128);
      if (!isRefused || isFinishing) return;
      logger.error({ filters: options.filters, err: error }, 'the broker refuses the subscription');
      client.end(true);
    });
  });
  client.on('error', (error) =>
    logger.warn({ err: error, url: hostOf(settings.url) }, 'the connection to the broker failed'),
  );
  const ended = new Promise<boolean>((resolve) => {
    client.once('close', () => {
      ending.abort();
      void inWork.then(() => resolve(isConnected));
    });
  });
  client.connect();
  return {
    ended,
    async finish(withinMs) {
      isFinishing = true;
      const timeout = new Promise<void>((resolve) => setTimeout(resolve, withinMs).unref());
      await Promise.race([inWork, timeout]);
      ending.abort();
      // The acknowledgement is written in the same turn as the work ends, so before this.
      await new Promise((resolve) => setImmediate(resolve));
      client.end(!client.connected);
    },
  };
}

function createClient(options: SessionOptions, work: (message: IPublishPacket) => Promise<MessageOutcome>): MqttClient {
  const { settings, ca } = options;
  const isVersion5 = settings.protocolVersion === 5;
  const giveUp = (error: unknown) => {
    options.logger.warn({ err: error }, 'a message is left to the broker');
    client.end(true);
  };
  const client = connect(settings.url, {
    clientId: settings.clientId,
    clean: false,
    protocolVersion: settings.protocolVersion,
    keepalive: settings.keepaliveS,
    connectTimeout: connectTimeoutMs,
    reconnectPeriod: 0,
    manualConnect: true,
    resubscribe: false,
    ...(settings.username === undefined ? {} : { username: settings.username }),
    ...(settings.password === undefined ? {} : { password: settings.password }),
    ...(ca === undefined ? {} : { ca }),
    ...(isVersion5
      ? {
          properties: { sessionExpiryInterval: settings.sessionExpiryS, receiveMaximum: settings.unacknowledged },
          customHandleAcks: (_topic, _payload, packet, acknowledge) => {
            work(packet as IPublishPacket).then(({ end }) => acknowledge(reasonCodes[end]), giveUp);
          },
        }
      : {}),
  });
  client.handleMessage = (packet, callback) => {
    // With MQTT 5 it was worked before, so that a reason could go with the acknowledgement.
    if (isVersion5 && packet.qos > 0) callback();
    else work(packet).then(() => callback(), giveUp);
  };
  return client;
}

/**
 * While a message is in work nothing more is read, not even the broker's answer to our ping; without this the library would
 * take the broker for dead and hang up whenever the store is away for longer than the keep-alive.
 */
function keepAliveWhileWorking(client: MqttClient): void {
  client.on('packetsend', (packet) => {
    if (packet.cmd === 'pingreq') setImmediate(() => client.reschedulePing(true));
  });
}

/** Without user and password. */
function hostOf(url: string): string {
  return new URL(url).host;
}
