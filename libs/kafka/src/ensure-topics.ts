/** Topics that have to be there before anything is sent. */

import { OperatingError } from '@warmbrick/runtime';
import type { KafkaClient } from './create-kafka.js';

export interface TopicPlan {
  readonly topic: string;
  readonly partitions: number;
  readonly replication: number;
  /** Settings of the topic, such as `retention.ms`. */
  readonly settings?: Readonly<Record<string, string>>;
}

export interface TopicOutcome {
  readonly topic: string;
  readonly isNew: boolean;
  /** Partitions that it has; those of an existing topic are never changed, as that would move machines between them. */
  readonly partitions: number;
}

/**
 * Creates the topics that are missing and says what is there.
 *
 * Errors: OperatingError `kafka-unavailable`, retriable.
 */
export async function ensureTopics(client: KafkaClient, plans: readonly TopicPlan[]): Promise<TopicOutcome[]> {
  const admin = client.kafka.admin();
  try {
    await admin.connect();
    const existing = new Set(await admin.listTopics());
    const missing = plans.filter((plan) => !existing.has(plan.topic));
    if (missing.length > 0) {
      await admin.createTopics({
        waitForLeaders: true,
        topics: missing.map(({ topic, partitions, replication, settings = {} }) => ({
          topic,
          numPartitions: partitions,
          replicationFactor: replication,
          configEntries: Object.entries(settings).map(([name, value]) => ({ name, value })),
        })),
      });
    }
    const { topics } = await admin.fetchTopicMetadata({ topics: plans.map(({ topic }) => topic) });
    const counts = new Map(topics.map(({ name, partitions }) => [name, partitions.length]));
    return plans.map(({ topic }) => ({ topic, isNew: !existing.has(topic), partitions: counts.get(topic) ?? 0 }));
  } catch (error) {
    throw new OperatingError('The topics could not be looked up or created.', {
      code: 'kafka-unavailable',
      isRetriable: true,
      remedy: 'Check the broker addresses, and that this program may create topics.',
      cause: error,
    });
  } finally {
    await admin.disconnect().catch(() => {});
  }
}
