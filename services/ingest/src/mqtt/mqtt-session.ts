/** One connection to a broker, from connecting to its end. */

import { connect, type MqttClient } from 'mqtt';
import type { IngestLogger } from '../ingest-types.js';
import { createMessageDesk } from './message-desk.js';
import type { MqttSettings } from './mqtt-settings.js';
import { pubackOf } from './puback.js';
import type { MessageOutcome, MqttMessage } from './take-messages.js';

export interface SessionOptions {
  readonly settings: MqttSettings;
  /** Certificates of authorities, PEM. */
  readonly ca: Buffer | undefined;
  /** Topic filters to subscribe to. */
  readonly filters: readonly string[];
  readonly logger: IngestLogger;
  /** Takes messages to their end, one outcome each. Errors: none is acknowledged and the connection ends. */
  readonly take: (messages: readonly MqttMessage[], signal: AbortSignal) => Promise<readonly MessageOutcome[]>;
  readonly onConnected: () => void;
}

export interface Session {
  /** Resolves when the connection is gone and nothing of it is in work any more; whether it had come about. */
  readonly ended: Promise<boolean>;
  /** Takes no further message, finishes those in work and acknowledges them, then disconnects. */
  finish(withinMs: number): Promise<void>;
}

/** How long the broker may take to answer to CONNECT, ms. Source: engineering judgement. */
const connectTimeoutMs = 20_000;

/**
 * Opens a connection that acknowledges messages only after `take`, and reads no more of them than it may hold.
 *
 * A client of the library is used for one connection only: an acknowledgement that is late for its connection can then never
 * reach the next one, where its number may stand for another message.
 */
export function openSession(options: SessionOptions): Session {
  const { settings, logger } = options;
  const ending = new AbortController();
  let isConnected = false;
  const client = createClient(options);
  const desk = createMessageDesk({
    mostMessages: settings.unacknowledged,
    take: (messages) => options.take(messages, ending.signal),
    acknowledge: (packetId, end) => {
      if (client.connected) client.stream.write(pubackOf(packetId, end, settings.protocolVersion));
    },
    onFailure: (error) => {
      if (!ending.signal.aborted) logger.warn({ err: error }, 'messages are left to the broker');
      client.end(true);
    },
  });
  client.handleMessage = (packet, callback) => desk.put(packet, callback);
  keepAliveWhileWorking(client);
  client.on('connect', () => {
    isConnected = true;
    options.onConnected();
    client.subscribe([...options.filters], { qos: 1 }, (error, granted) => {
      const isRefused = error !== null || (granted ?? []).some(({ qos }) => qos >= 128);
      if (!isRefused || desk.isClosed()) return;
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
      void desk.close().then(() => resolve(isConnected));
    });
  });
  client.connect();
  return {
    ended,
    async finish(withinMs) {
      const timeout = new Promise<void>((resolve) => setTimeout(resolve, withinMs).unref());
      await Promise.race([desk.close(), timeout]);
      ending.abort();
      client.end(!client.connected);
    },
  };
}

function createClient({ settings, ca }: SessionOptions): MqttClient {
  const { username, password } = settings;
  const properties = { sessionExpiryInterval: settings.sessionExpiryS, receiveMaximum: settings.unacknowledged };
  return connect(settings.url, {
    clientId: settings.clientId,
    clean: false,
    protocolVersion: settings.protocolVersion,
    keepalive: settings.keepaliveS,
    connectTimeout: connectTimeoutMs,
    reconnectPeriod: 0,
    manualConnect: true,
    resubscribe: false,
    ...(username === undefined ? {} : { username }),
    ...(password === undefined ? {} : { password }),
    ...(ca === undefined ? {} : { ca }),
    ...(settings.protocolVersion === 5 ? { properties } : {}),
  });
}

/**
 * While no more messages may be held nothing is read, not even the broker's answer to our ping; without this the library would
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
