/** Settings of reading from Kafka. */

import { topics } from '@warmbrick/contracts';
import { type ConsumerLimits, usualConsumerLimits } from '@warmbrick/kafka';

export interface KafkaIngestSettings {
  /** Name of the group whose members share the partitions. */
  readonly groupId: string;
  /** Stable over restarts and unique in the group. */
  readonly instanceName: string;
  readonly samplesTopic: string;
  readonly faultsTopic: string;
  /** Where rejects are made known beside the table; null for nowhere. */
  readonly rejectsTopic: string | null;
  readonly lingerMs: number;
  readonly eagerMessages: number;
  readonly eagerBytes: number;
  readonly roundBytes: number;
  readonly machinesInMemory: number;
  readonly futureMs: number;
  /** Threads that decode and analyse; 0 for the one that reads; null for one less than there are cores, four at most. */
  readonly analysisThreads: number | null;
  readonly consumer: Partial<ConsumerLimits>;
}

/**
 * Source of the figures: engineering judgement. Lingering bounds how often the state of a machine is written, which is what
 * single samples of many machines cost; packets hardly wait, as they are eager.
 */
export const usualKafkaSettings: Omit<KafkaIngestSettings, 'instanceName'> = {
  groupId: 'warmbrick-ingest',
  samplesTopic: topics.samples,
  faultsTopic: topics.faults,
  rejectsTopic: topics.rejects,
  lingerMs: 1000,
  eagerMessages: 5000,
  eagerBytes: 2 * 1024 * 1024,
  roundBytes: 16 * 1024 * 1024,
  machinesInMemory: 10_000,
  futureMs: 10 * 60_000,
  analysisThreads: null,
  consumer: {},
};

/** Handlers only wait here for their transaction, so that one transaction can take in as many partitions as there are. */
const parallelHandlers = 256;

/** The consumer's limits with ours on top. */
export function consumerLimits(settings: Pick<KafkaIngestSettings, 'consumer'>): ConsumerLimits {
  return { ...usualConsumerLimits, parallelHandlers, ...settings.consumer };
}
