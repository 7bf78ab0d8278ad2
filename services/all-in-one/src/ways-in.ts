/** The ways in that are configured: HTTP always, MQTT, a folder and standard feeds where they are named. */

import { readFile } from 'node:fs/promises';
import {
  directIntake,
  feedProviderSchema,
  type Ingest,
  type Intake,
  kafkaIntake,
  keepMqttRejects,
  pollStandardFeed,
  publishRejects,
  startMqttIntake,
  watchFolder,
} from '@warmbrick/ingest';
import { createKafka, createProducer, type Producer } from '@warmbrick/kafka';
import { type Logger, OperatingError } from '@warmbrick/runtime';
import type { RejectedMessage, Store } from '@warmbrick/store';
import { z } from 'zod';
import type { AllInOneConfig } from './config.js';

/** Something that was started and has to be stopped. */
export type Stop = () => Promise<void>;

/**
 * The door that every way in leads to: topics where brokers are named, else the pipeline of this process.
 *
 * Errors: OperatingError when the brokers do not answer.
 */
export async function openIntake(
  config: AllInOneConfig,
  deps: { readonly ingest: Ingest; readonly logger: Logger },
): Promise<{ intake: Intake; producer: Producer | null; stop: Stop }> {
  const { brokers } = config;
  if (brokers === undefined) {
    return { intake: directIntake(deps.ingest), producer: null, stop: async () => {} };
  }
  const producer = await createProducer(createKafka({ brokers, clientId: 'warmbrick', logger: deps.logger }));
  const intake = kafkaIntake(async (topic, messages) => {
    await Promise.all(messages.map(({ key, value }) => producer.send({ topic, key, value })));
  });
  return { intake, producer, stop: () => producer.close() };
}

export interface WaysInDeps {
  readonly intake: Intake;
  /** Keeps what gateways send in vain. */
  readonly store: Pick<Store, 'commit'>;
  /** Makes it known on a topic too; null without brokers. */
  readonly producer: Producer | null;
  readonly logger: Logger;
  readonly say: (line: string) => void;
}

/** Starts MQTT, folder and feeds as far as they are configured; returns how to stop them, in order of starting. */
export async function startWaysIn(config: AllInOneConfig, deps: WaysInDeps): Promise<Stop[]> {
  const { intake, store, producer, logger, say } = deps;
  const stops: Stop[] = [];
  if (config.inboxDir !== undefined) {
    const watch = await watchFolder({ folder: config.inboxDir, intake, logger });
    stops.push(() => watch.stop());
    say(`Takes recordings that are dropped into ${config.inboxDir}/inbox`);
  }
  const { mqttUrl: url, mqttClientId: clientId, mqttUsername: username, mqttPassword: password } = config;
  if (url !== undefined) {
    const login = { ...(username === undefined ? {} : { username }), ...(password === undefined ? {} : { password }) };
    const publishing = producer === null ? null : { producer, logger };
    const publish =
      publishing === null ? undefined : (rejects: readonly RejectedMessage[]) => publishRejects(publishing, rejects);
    const onReject = keepMqttRejects({ store, publish });
    const mqtt = await startMqttIntake({ url, clientId, ...login, intake, logger, onReject });
    stops.push(() => mqtt.stop());
    say(`Listens to gateways at ${url}`);
  }
  for (const provider of await readProviders(config.feedsFile)) {
    const feed = pollStandardFeed({ provider, intake, logger });
    stops.push(() => feed.stop());
    say(`Asks the standard feed of ${provider.name}`);
  }
  return stops;
}

async function readProviders(path: string | undefined): Promise<z.input<typeof feedProviderSchema>[]> {
  if (path === undefined) return [];
  const problem = (message: string, cause?: unknown) =>
    new OperatingError(message, {
      code: 'bad-config',
      where: path,
      remedy: 'It is a JSON list of providers; services/ingest/README.md shows one.',
      cause,
    });
  let value: unknown;
  try {
    value = JSON.parse(await readFile(path, 'utf8'));
  } catch (cause) {
    throw problem(`The file of feeds cannot be read: ${(cause as Error).message}.`, cause);
  }
  const parsed = z.array(feedProviderSchema).safeParse(value);
  if (parsed.success) return value as z.input<typeof feedProviderSchema>[];
  throw problem(`${parsed.error.issues.map((issue) => `${issue.path.join('.')}: ${issue.message}`).join('; ')}.`);
}
