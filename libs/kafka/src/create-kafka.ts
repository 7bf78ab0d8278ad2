/** The connection to Kafka: brokers, credentials, logging. */

import { Kafka, type KafkaConfig, type LogEntry, logLevel, type SASLOptions } from 'kafkajs';
import { registerCodecs } from './register-codecs.js';

/** The part of a logger that is used; pino fits. */
export interface KafkaLogger {
  debug(fields: object, message: string): void;
  info(fields: object, message: string): void;
  warn(fields: object, message: string): void;
  error(fields: object, message: string): void;
}

export interface KafkaOptions {
  /** `host:port`, several for a cluster. */
  readonly brokers: readonly string[];
  /** Name of this program in the brokers' logs and quotas. */
  readonly clientId: string;
  readonly ssl?: KafkaConfig['ssl'];
  readonly sasl?: SASLOptions;
  readonly logger: KafkaLogger;
}

/** What producers and consumers are made from; nothing is connected yet. */
export interface KafkaClient {
  readonly kafka: Kafka;
  readonly logger: KafkaLogger;
  readonly clientId: string;
}

/** Waits for a connection and for an answer, ms. Source: engineering judgement; a fetch waits far less. */
const connectionTimeoutMs = 5000;
const requestTimeoutMs = 30_000;
/** Tries of a request and the wait before the second, ms; some 8 s in all, a leader election takes less. */
const retries = 8;
const firstRetryMs = 150;
const longestRetryMs = 3000;

/** Prepares the connection; compressed batches of every codec can be read from then on. */
export function createKafka(options: KafkaOptions): KafkaClient {
  registerCodecs();
  const { brokers, clientId, ssl, sasl, logger } = options;
  const kafka = new Kafka({
    brokers: [...brokers],
    clientId,
    ...(ssl === undefined ? {} : { ssl }),
    ...(sasl === undefined ? {} : { sasl }),
    connectionTimeout: connectionTimeoutMs,
    requestTimeout: requestTimeoutMs,
    retry: { retries, initialRetryTime: firstRetryMs, maxRetryTime: longestRetryMs },
    logLevel: logLevel.INFO,
    logCreator: () => (entry) => passOn(logger, entry),
  });
  return { kafka, logger, clientId };
}

/** The client calls every refused request an error, also those that it repeats with success; so all is one level lower. */
function passOn(logger: KafkaLogger, entry: LogEntry): void {
  const { message, timestamp: _, logger: __, stack: ___, ...rest } = entry.log;
  const fields = { part: entry.namespace, detail: message, ...rest };
  if (entry.level === logLevel.ERROR) logger.warn(fields, 'kafka client reports a failure');
  else if (entry.level === logLevel.WARN) logger.info(fields, 'kafka client reports a doubt');
  else logger.debug(fields, 'kafka client reports');
}
