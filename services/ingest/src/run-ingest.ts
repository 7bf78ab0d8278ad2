/** The ingest process put together: store, topics, group, outbox, figures. */

import { builtInThresholds } from '@warmbrick/analysis';
import { createKafka, createProducer, ensureTopics, type KafkaClient, type TopicPartition } from '@warmbrick/kafka';
import { createMetrics, type Logger, OperatingError } from '@warmbrick/runtime';
import { openStore, openStorePatiently, type Store } from '@warmbrick/store';
import { startAlertClock } from './alerting/start-alert-clock.js';
import type { IngestConfig } from './config.js';
import { startDerateInquirer } from './derates/derate-inquirer.js';
import { startInducementWatch } from './inducement/inducement-watch.js';
import { startFindingsPublisher } from './kafka/findings-publisher.js';
import { createIngestMeter } from './kafka/ingest-meter.js';
import { type KafkaIngestStats, startKafkaIngest } from './kafka/start-kafka-ingest.js';
import { startServiceWatch } from './service/service-watch.js';
import { startHealthServer } from './start-health-server.js';
import { startStoreUpkeep } from './store-upkeep.js';

export interface IngestProcessOptions {
  readonly config: IngestConfig;
  readonly logger: Logger;
  readonly onFatal: (error: Error) => void;
  readonly onAssigned?: (partitions: readonly TopicPartition[]) => void;
  /** Ends the waiting for a store that is down. */
  readonly signal?: AbortSignal;
}

export interface IngestProcess {
  readonly metricsPort: number | null;
  stats(): KafkaIngestStats;
  /** Commits what was taken and stops everything in order. */
  stop(): Promise<void>;
}

/** Starts everything. Errors: OperatingError for whatever a person can mend: brokers, database, port. */
export async function runIngest(options: IngestProcessOptions): Promise<IngestProcess> {
  const undo: (() => Promise<unknown>)[] = [];
  const unwind = async () => {
    for (let step = undo.pop(); step !== undefined; step = undo.pop()) await step();
  };
  try {
    return await start(options, undo, unwind);
  } catch (error) {
    await unwind();
    throw error;
  }
}

async function start(
  options: IngestProcessOptions,
  undo: (() => Promise<unknown>)[],
  unwind: () => Promise<void>,
): Promise<IngestProcess> {
  const { config, logger, onFatal } = options;
  const metrics = createMetrics('ingest');
  const meter = createIngestMeter(metrics);
  const store = await openOwnStore(options);
  undo.push(() => store.close());
  const client = clientOf(config, logger);
  if (config.createTopics) await createTopics(client, config);
  const producer = await createProducer(client);
  undo.push(() => producer.close());
  let isAssigned = false;
  const ingest = await startKafkaIngest({
    client,
    producer,
    store,
    thresholds: builtInThresholds,
    logger,
    settings: settingsOf(config),
    meter,
    onFatal,
    onAssigned: (partitions) => {
      isAssigned = true;
      options.onAssigned?.(partitions);
    },
  });
  undo.push(() => ingest.stop());
  const upkeep = startStoreUpkeep({ store, logger });
  undo.push(() => upkeep.stop());
  const clock = startAlertClock({ store, logger });
  undo.push(() => clock.stop());
  const service = startServiceWatch({ store, logger });
  undo.push(() => service.stop());
  const inducement = startInducementWatch({ store, logger });
  undo.push(() => inducement.stop());
  const inquirer = startDerateInquirer({ store, logger });
  undo.push(() => inquirer.stop());
  if (config.publishFindings) {
    const publisher = startFindingsPublisher({
      store,
      producer,
      topic: config.findingsTopic,
      owner: config.instanceName,
      logger,
      onSent: meter.findingsSent,
    });
    undo.push(() => publisher.stop());
  }
  const { metricsHost: host, metricsPort: port } = config;
  if (port === undefined) return { metricsPort: null, stats: ingest.stats, stop: unwind };
  const whyNotReady = () => reasonNotReady(isAssigned, store);
  const health = await startHealthServer({ host, port, metrics, whyNotReady });
  undo.push(() => health.stop());
  return { metricsPort: health.port, stats: ingest.stats, stop: unwind };
}

function openOwnStore({ config, logger, signal }: IngestProcessOptions): Promise<Store> {
  const storeConfig = {
    connectionString: config.databaseUrl,
    outbox: config.publishFindings,
    alerting: { now: () => Date.now(), outbox: true },
  };
  return openStorePatiently(() => openStore(storeConfig), { logger, waitMs: config.storeWaitMs, signal });
}

async function reasonNotReady(isAssigned: boolean, store: { ping(): Promise<void> }): Promise<string | null> {
  if (!isAssigned) return 'the group has not been joined yet';
  try {
    await store.ping();
    return null;
  } catch (error) {
    return error instanceof OperatingError ? error.message : 'the database does not answer';
  }
}

function clientOf(config: IngestConfig, logger: Logger): KafkaClient {
  const { brokers, instanceName, kafkaTls, kafkaUser: username, kafkaPassword: password, kafkaLogin } = config;
  const sasl =
    username === undefined || password === undefined ? {} : { sasl: { mechanism: kafkaLogin, username, password } };
  return createKafka({ brokers, clientId: instanceName, logger, ssl: kafkaTls, ...(sasl as object) });
}

async function createTopics(client: KafkaClient, config: IngestConfig): Promise<void> {
  const { topicPartitions: partitions, topicReplication: replication } = config;
  const names = [config.samplesTopic, config.faultsTopic, config.rejectsTopic, config.findingsTopic];
  await ensureTopics(
    client,
    names.map((topic) => ({ topic, partitions, replication })),
  );
}

function settingsOf(config: IngestConfig) {
  const { groupId, instanceName, samplesTopic, faultsTopic, lingerMs, eagerMessages, eagerBytes, roundBytes } = config;
  const { machinesInMemory, futureMs, sessionTimeoutMs, rebalanceTimeoutMs, heartbeatMs, fetchWaitMs } = config;
  const { bytesPerPartition, heldBytes, fencedWaitMs, stuckAfterMs, stopWithinMs } = config;
  return {
    groupId,
    instanceName,
    samplesTopic,
    faultsTopic,
    rejectsTopic: config.publishRejects ? config.rejectsTopic : null,
    lingerMs,
    eagerMessages,
    eagerBytes,
    roundBytes,
    machinesInMemory,
    futureMs,
    analysisThreads: config.analysisThreads ?? null,
    consumer: {
      sessionTimeoutMs,
      rebalanceTimeoutMs,
      heartbeatMs,
      fetchWaitMs,
      bytesPerPartition,
      heldBytes,
      fencedWaitMs,
      stuckAfterMs,
      stopWithinMs,
    },
  };
}
