/** Settings of the ingest process. */

import { hostname } from 'node:os';
import { topics } from '@warmbrick/contracts';
import { usualConsumerLimits } from '@warmbrick/kafka';
import { type ConfigSources, type ExplainedSetting, explainConfig, loadConfig, logLevels } from '@warmbrick/runtime';
import { z } from 'zod';
import { usualKafkaSettings } from './kafka/kafka-settings.js';

const text = z.string().min(1);
const count = z.number().int().min(1);
const address = z.string().regex(/^[^\s:]+:\d{1,5}$|^\[[0-9a-f:]+\]:\d{1,5}$/i, 'expected host:port');
const topicName = z.string().regex(/^[A-Za-z0-9._-]{1,249}$/, 'expected letters, digits, ".", "_" and "-"');
const loopback = z
  .string()
  .regex(/^(127(\.\d{1,3}){3}|::1|localhost)$/, 'only this computer itself may read the figures');

const limits = usualConsumerLimits;
const usual = usualKafkaSettings;

/** The settings with what they mean; the variable of each is in capitals behind WARMBRICK_, but DATABASE_URL. */
export const ingestConfigSchema = z.strictObject({
  databaseUrl: text.meta({ secret: true, description: 'PostgreSQL that keeps everything, as a connection string.' }),
  brokers: z.array(address).min(1).meta({ description: 'Kafka brokers as host:port, with commas between.' }),
  kafkaTls: z.boolean().default(false).meta({ description: 'Whether the brokers are spoken to over TLS.' }),
  kafkaUser: text.optional().meta({ description: 'User of the brokers; none for brokers that ask for none.' }),
  kafkaPassword: text.optional().meta({ secret: true, description: 'Password of that user.' }),
  kafkaLogin: z
    .enum(['plain', 'scram-sha-256', 'scram-sha-512'])
    .default('scram-sha-512')
    .meta({ description: 'How user and password are shown to the brokers.' }),
  groupId: text.default(usual.groupId).meta({ description: 'Group whose members share the partitions.' }),
  instanceName: text
    .default(hostname())
    .meta({ description: 'Name of this member, stable over restarts and unique in the group.' }),
  samplesTopic: topicName.default(topics.samples).meta({ description: 'Topic of samples, packets and CAN frames.' }),
  faultsTopic: topicName.default(topics.faults).meta({ description: 'Topic of fault reports.' }),
  rejectsTopic: topicName.default(topics.rejects).meta({ description: 'Topic that hears of rejected messages.' }),
  findingsTopic: topicName.default(topics.findings).meta({ description: 'Topic that hears of findings.' }),
  publishRejects: z.boolean().default(true).meta({ description: 'Off: rejects are in the table only.' }),
  publishFindings: z.boolean().default(true).meta({ description: 'Off: no outbox is written, and nothing is sent.' }),
  createTopics: z
    .boolean()
    .default(false)
    .meta({ description: 'Whether topics that are missing are created at start.' }),
  topicPartitions: count.max(10_000).default(12).meta({ description: 'Partitions of topics that are created.' }),
  topicReplication: count.max(10).default(3).meta({ description: 'Replicas of topics that are created.' }),
  lingerMs: z
    .number()
    .int()
    .min(0)
    .max(10_000)
    .default(usual.lingerMs)
    .meta({ description: 'How long messages wait for company before they are committed together, ms.' }),
  eagerMessages: count.default(usual.eagerMessages).meta({ description: 'So many waiting messages wait no longer.' }),
  eagerBytes: count
    .default(usual.eagerBytes)
    .meta({ description: 'So many bytes of waiting messages wait no longer.' }),
  roundBytes: count.default(usual.roundBytes).meta({ description: 'Bytes of messages of one transaction at most.' }),
  machinesInMemory: count
    .default(usual.machinesInMemory)
    .meta({ description: "Machines whose state is in memory; the others' is read when needed." }),
  futureMs: z
    .number()
    .int()
    .min(0)
    .default(usual.futureMs)
    .meta({ description: 'Samples later than our clock by more than this are rejected, ms.' }),
  storeWaitMs: z
    .number()
    .int()
    .min(0)
    .default(300_000)
    .meta({ description: 'How long the start waits for a database that does not answer, ms.' }),
  analysisThreads: z.number().int().min(0).max(64).optional().meta({
    description: 'Threads that decode and analyse; 0 for none of their own; unset: as many as cores, 4 at most.',
  }),
  sessionTimeoutMs: count
    .default(limits.sessionTimeoutMs)
    .meta({ description: 'A member that is silent for so long loses its partitions, ms.' }),
  rebalanceTimeoutMs: count
    .default(limits.rebalanceTimeoutMs)
    .meta({ description: 'Longest wait for members to rejoin, ms.' }),
  heartbeatMs: count
    .default(limits.heartbeatMs)
    .meta({ description: 'Between signs of life, ms; a third of the session at most.' }),
  fetchWaitMs: count
    .default(limits.fetchWaitMs)
    .meta({ description: 'How long brokers wait for messages to come, ms.' }),
  bytesPerPartition: count
    .default(limits.bytesPerPartition)
    .meta({ description: 'Bytes fetched of one partition at once, compressed.' }),
  heldBytes: count
    .default(limits.heldBytes)
    .meta({ description: 'Bytes of messages held in memory before reading stops.' }),
  fencedWaitMs: count
    .default(limits.fencedWaitMs)
    .meta({ description: 'Wait before a partition is claimed anew that another has taken, ms.' }),
  stuckAfterMs: count
    .default(limits.stuckAfterMs)
    .meta({ description: 'Without a sign of progress for so long, reading is started anew, ms.' }),
  stopWithinMs: count
    .default(limits.stopWithinMs)
    .meta({ description: 'How long stopping waits for work under way, ms.' }),
  metricsPort: z
    .number()
    .int()
    .min(0)
    .max(65_535)
    .optional()
    .meta({ description: 'Port of /metrics, /healthz and /readyz; 0 for any free one; none without it.' }),
  metricsHost: loopback.default('127.0.0.1').meta({ description: 'Loopback address of that port.' }),
  logLevel: z.enum(logLevels).default('info').meta({ description: 'Least important kind of line that is logged.' }),
});

export type IngestConfig = z.output<typeof ingestConfigSchema>;

const envNames = { databaseUrl: 'DATABASE_URL' };

/** Reads the settings. Errors: OperatingError `bad-config` that lists all problems at once. */
export function readIngestConfig(sources: Pick<ConfigSources, 'env' | 'file'>): IngestConfig {
  return loadConfig(ingestConfigSchema, { ...sources, envNames });
}

/** One setting as `config explain` shows it. */
export interface ExplainedIngestSetting extends ExplainedSetting {
  readonly meaning: string;
}

/** Every setting with its value, where that came from and what it means. Errors: as `readIngestConfig`. */
export function explainIngestConfig(sources: Pick<ConfigSources, 'env' | 'file'>): ExplainedIngestSetting[] {
  const shape: Readonly<Record<string, z.ZodType>> = ingestConfigSchema.shape;
  return explainConfig(ingestConfigSchema, { ...sources, envNames }).map((setting) => ({
    ...setting,
    meaning: shape[setting.name]?.meta()?.description ?? '',
  }));
}
