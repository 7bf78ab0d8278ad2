/** Settings of the notifier process. */

import { hostname } from 'node:os';
import { type ConfigSources, type ExplainedSetting, explainConfig, loadConfig, logLevels } from '@warmbrick/runtime';
import { z } from 'zod';
import { notifierSettingsShape } from './notifier-settings.js';

const text = z.string().min(1);
const address = z.string().regex(/^[^\s:]+:\d{1,5}$|^\[[0-9a-f:]+\]:\d{1,5}$/i, 'expected host:port');

const schema = z.strictObject({
  databaseUrl: text.meta({ secret: true, description: 'PostgreSQL that keeps everything, as a connection string.' }),
  storeWaitMs: z
    .number()
    .int()
    .min(0)
    .default(300_000)
    .meta({ description: 'How long the start waits for a database that does not answer, ms.' }),
  publicUrl: z
    .url({ protocol: /^https?$/ })
    .meta({ description: 'Address under which people reach the pages; links in messages begin with it.' }),
  brokers: z.array(address).min(1).optional().meta({
    description: 'Kafka brokers as host:port, with commas between; without them the topic of alerts is not written.',
  }),
  kafkaTls: z.boolean().default(false).meta({ description: 'Whether the brokers are spoken to over TLS.' }),
  kafkaUser: text.optional().meta({ description: 'User of the brokers; none for brokers that ask for none.' }),
  kafkaPassword: text.optional().meta({ secret: true, description: 'Password of that user.' }),
  kafkaLogin: z
    .enum(['plain', 'scram-sha-256', 'scram-sha-512'])
    .default('scram-sha-512')
    .meta({ description: 'How user and password are shown to the brokers.' }),
  instanceName: text
    .default(hostname())
    .meta({ description: 'Name of this process, for whoever looks into the tables.' }),
  ...notifierSettingsShape,
  logLevel: z.enum(logLevels).default('info').meta({ description: 'Least important kind of line that is logged.' }),
});

export type NotifierConfig = z.output<typeof schema>;

const envNames = { databaseUrl: 'DATABASE_URL' };

/** Reads the settings. Errors: OperatingError `bad-config` that lists all problems at once. */
export function readNotifierConfig(sources: Pick<ConfigSources, 'env' | 'file'>): NotifierConfig {
  return loadConfig(schema, { ...sources, envNames });
}

/** Every setting with its value, where that came from and what it means. Errors: as `readNotifierConfig`. */
export function explainNotifierConfig(sources: Pick<ConfigSources, 'env' | 'file'>): ExplainedSetting[] {
  return explainConfig(schema, { ...sources, envNames });
}
