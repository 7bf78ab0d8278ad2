/** Kafka -> store: the members of a group share the partitions, each batch has its effect once. */

import { availableParallelism } from 'node:os';
import type { ThresholdSet } from '@warmbrick/analysis';
import {
  type ConsumerCounts,
  type KafkaClient,
  type PartitionLag,
  type Producer,
  type RunningConsumer,
  runConsumer,
  type TopicPartition,
} from '@warmbrick/kafka';
import type { MachineChange, Store } from '@warmbrick/store';
import type { IngestLogger } from '../ingest-types.js';
import { type Analyst, createAnalyst } from './analyst.js';
import { BatchRounds } from './batch-rounds.js';
import { cursorSource } from './cursor-source.js';
import type { IngestMeter } from './ingest-meter.js';
import { consumerLimits, type KafkaIngestSettings, usualKafkaSettings } from './kafka-settings.js';
import { publishRejects } from './publish-rejects.js';
import { createThreadedAnalyst } from './threads/threaded-analyst.js';
import type { Draft, WorkContext } from './work-batches.js';

export interface KafkaIngestOptions {
  readonly client: KafkaClient;
  /** Sends rejects; not asked when `rejectsTopic` is null. */
  readonly producer: Producer;
  readonly store: Store;
  readonly thresholds: ThresholdSet;
  readonly logger: IngestLogger;
  readonly settings: Partial<KafkaIngestSettings> & { readonly instanceName: string };
  /** The consumer is beyond help: the process should end with an exit code other than 0. */
  readonly onFatal: (error: Error) => void;
  /** Called after each commit with what it changed. */
  readonly onChange?: (changes: readonly MachineChange[]) => void;
  readonly onAssigned?: (partitions: readonly TopicPartition[]) => void;
  readonly meter?: IngestMeter;
  readonly now?: () => number;
}

export interface KafkaIngestStats extends ConsumerCounts {
  readonly samples: number;
  readonly rejects: number;
  readonly rewinds: number;
  readonly transactions: number;
  /** Transactions that the store turned away, as another had claimed a partition of theirs. */
  readonly fencedCommits: number;
  readonly machinesInMemory: number;
}

export interface KafkaIngest {
  stats(): KafkaIngestStats;
  lag(): PartitionLag[];
  /** Commits what was taken, tells Kafka the positions and leaves the group. */
  stop(): Promise<void>;
}

/** Threads that analyse, unless another number is set. Source: engineering judgement: one thread fetches for so many. */
const mostThreads = 4;
/** Between looks at the lag, ms. Source: engineering judgement. */
const standingEveryMs = 5000;

/**
 * Joins the group and works until stopped.
 *
 * Errors: OperatingError `kafka-unavailable`, retriable, when no broker answers at the start.
 */
export async function startKafkaIngest(options: KafkaIngestOptions): Promise<KafkaIngest> {
  const settings = { ...usualKafkaSettings, ...options.settings };
  const limits = consumerLimits(settings);
  const totals = { samples: 0, rejects: 0, rewinds: 0, transactions: 0, fencedCommits: 0 };
  const context = createContext(options, settings, limits.heartbeatMs);
  const rounds = new BatchRounds({
    context,
    limits: settings,
    onCommitted: (draft, tookMs, batches) => settle(options, totals, { draft, tookMs, batches }),
    onFenced: () => {
      totals.fencedCommits++;
      options.logger.warn({ fencedCommits: totals.fencedCommits }, 'a transaction was turned away by the fence');
      options.meter?.fenced();
    },
  });
  const consumer = await runConsumer(options.client, {
    groupId: settings.groupId,
    instanceName: settings.instanceName,
    topics: [settings.samplesTopic, settings.faultsTopic],
    limits,
    claim: ({ topic, partition }) => options.store.claim(cursorSource(topic), partition),
    handle: (batch, tools) => rounds.take(batch, tools),
    onQueued: () => rounds.look(),
    onFatal: options.onFatal,
    onAssigned: (partitions) => {
      context.analyst.keepOnly(partitions);
      options.onAssigned?.(partitions);
    },
  });
  const standing = setInterval(() => tellStanding(options.meter, consumer, context), standingEveryMs);
  return {
    stats: () => ({ ...consumer.counts(), ...totals, machinesInMemory: context.analyst.machines() }),
    lag: () => consumer.lag(),
    async stop() {
      clearInterval(standing);
      rounds.hasten();
      await consumer.stop();
      await context.analyst.close();
    },
  };
}

function createContext(options: KafkaIngestOptions, settings: KafkaIngestSettings, heartbeatMs: number): WorkContext {
  const { store, logger, producer } = options;
  const { rejectsTopic } = settings;
  return {
    store,
    analyst: startAnalyst(options, settings, heartbeatMs),
    now: options.now ?? Date.now,
    heartbeatMs,
    publishRejects: async (rejects) => {
      if (rejectsTopic !== null) await publishRejects({ producer, topic: rejectsTopic, logger }, rejects);
    },
  };
}

/** Without threads of its own where there is one core, or where none are wanted. */
function startAnalyst(options: KafkaIngestOptions, settings: KafkaIngestSettings, beatEveryMs: number): Analyst {
  const { store, thresholds, logger, onFatal } = options;
  const { faultsTopic, futureMs, machinesInMemory: most, analysisThreads } = settings;
  const cores = availableParallelism();
  // As many as cores: the thread that reads and commits takes a fifth of the work.
  const threads = analysisThreads ?? (cores === 1 ? 0 : Math.min(mostThreads, cores));
  const plan = { store, thresholds, logger, most, faultsTopic, futureMs };
  return threads > 0 ? createThreadedAnalyst({ ...plan, threads, beatEveryMs, onFatal }) : createAnalyst(plan);
}

type Totals = { -readonly [K in 'samples' | 'rejects' | 'rewinds' | 'transactions' | 'fencedCommits']: number };

function settle(
  { meter, logger, onChange }: KafkaIngestOptions,
  totals: Totals,
  { draft, tookMs, batches }: { draft: Draft; tookMs: number; batches: number },
): void {
  const { samples, messages, changes, rejects } = draft;
  totals.transactions++;
  totals.samples += samples;
  totals.rejects += rejects.length;
  for (const change of changes) if (change.rewoundToMs !== null) totals.rewinds++;
  meter?.committed({ batches, messages, samples, tookS: tookMs / 1000 });
  for (const { reason } of rejects) meter?.rejected(reason);
  if (rejects.length > 0) logger.warn({ rejects: rejects.length, first: rejects[0]?.detail }, 'messages were rejected');
  if (changes.length === 0) return;
  try {
    onChange?.(changes);
  } catch (error) {
    // A listener that fails must not undo what is committed.
    logger.error({ err: error }, 'a listener of changes failed');
  }
}

function tellStanding(meter: IngestMeter | undefined, consumer: RunningConsumer, { analyst }: WorkContext): void {
  const lag = consumer.lag();
  meter?.standing({
    messages: lag.reduce((sum, { messages }) => sum + (messages ?? 0), 0),
    seconds: Math.max(0, ...lag.map(({ seconds }) => seconds ?? 0)),
    machines: analyst.machines(),
  });
}
