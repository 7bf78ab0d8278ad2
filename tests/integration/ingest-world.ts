/** Kafka, PostgreSQL and members of the ingest group as processes of their own, for tests of the whole way. */

import { setTimeout as sleep } from 'node:timers/promises';
import { topics } from '@warmbrick/contracts';
import { createProducer, ensureTopics, type Producer } from '@warmbrick/kafka';
import type { Store } from '@warmbrick/store';
import type { TestKafka } from '../kafka/kafka-provider.js';
import { type Child, startChild } from '../store/child.js';
import { runSql } from '../store/postgres.js';

export interface WorldTopics {
  readonly samples: string;
  readonly faults: string;
  readonly rejects: string;
  readonly findings: string;
}

export interface OutMessage {
  readonly topic: string;
  readonly key: string;
  readonly value: string | Buffer;
}

export interface IngestWorld {
  readonly names: WorldTopics;
  readonly databaseUrl: string;
  readonly groupId: string;
  /** Sends messages and waits until all are acknowledged. */
  send(messages: readonly OutMessage[]): Promise<void>;
  startMember(instanceName: string, env?: Readonly<Record<string, string>>): Child;
  /** Waits until everything sent has been committed. */
  drained(withinMs?: number): Promise<void>;
  /** Positions of the store, by source and partition. */
  positions(): Promise<Map<string, number>>;
  stop(): Promise<void>;
}

/** Session limits under which a lost member is missed within seconds. */
const hastyEnv = {
  WARMBRICK_SESSION_TIMEOUT_MS: '3000',
  WARMBRICK_REBALANCE_TIMEOUT_MS: '6000',
  WARMBRICK_HEARTBEAT_MS: '300',
  WARMBRICK_FETCH_WAIT_MS: '100',
  WARMBRICK_FENCED_WAIT_MS: '200',
  WARMBRICK_STOP_WITHIN_MS: '5000',
  WARMBRICK_LINGER_MS: '50',
  WARMBRICK_LOG_LEVEL: 'warn',
};

/** Topics of their own for a test. */
export async function createWorld(
  kafka: TestKafka,
  options: { databaseUrl: string; partitions: number; settings?: Readonly<Record<string, string>> },
): Promise<IngestWorld> {
  const { databaseUrl, partitions, settings = {} } = options;
  const names = {
    samples: kafka.freshName(topics.samples),
    faults: kafka.freshName(topics.faults),
    rejects: kafka.freshName(topics.rejects),
    findings: kafka.freshName(topics.findings),
  };
  const client = kafka.client('test-world');
  const plans = Object.values(names).map((topic) => ({ topic, partitions, replication: 1, settings }));
  await ensureTopics(client, plans);
  const producer: Producer = await createProducer(client, { compression: 'gzip' });
  const groupId = kafka.freshName('group');
  const members: Child[] = [];
  const env = {
    ...hastyEnv,
    DATABASE_URL: databaseUrl,
    WARMBRICK_BROKERS: kafka.brokers.join(','),
    WARMBRICK_GROUP_ID: groupId,
    WARMBRICK_SAMPLES_TOPIC: names.samples,
    WARMBRICK_FAULTS_TOPIC: names.faults,
    WARMBRICK_REJECTS_TOPIC: names.rejects,
    WARMBRICK_FINDINGS_TOPIC: names.findings,
  };

  const positions = async () => {
    const rows = await runSql(databaseUrl, 'SELECT source, "partition", next_offset FROM ingest_cursor');
    return new Map(rows.map((row) => [`${row.source}/${row.partition}`, Number(row.next_offset)]));
  };
  const behind = async () => {
    const admin = kafka.client('test-ends').kafka.admin();
    await admin.connect();
    try {
      const stands = await positions().catch(() => new Map<string, number>());
      const late: string[] = [];
      for (const topic of [names.samples, names.faults]) {
        for (const { partition, high } of await admin.fetchTopicOffsets(topic)) {
          const at = stands.get(`kafka/${topic}/${partition}`) ?? 0;
          if (at < Number(high)) late.push(`${topic}/${partition}: ${at} of ${high}`);
        }
      }
      return late;
    } finally {
      await admin.disconnect();
    }
  };

  return {
    names,
    databaseUrl,
    groupId,
    positions,
    async send(messages) {
      const sent: Promise<void>[] = [];
      for (const [at, message] of messages.entries()) {
        sent.push(producer.send(message));
        if (at % 5000 === 4999) await sent.at(-1);
      }
      await Promise.all(sent);
    },
    startMember(instanceName, extra = {}) {
      const child = startChild('../../services/ingest/src/main.ts', [], {
        env: { ...env, WARMBRICK_INSTANCE_NAME: instanceName, ...extra },
      });
      members.push(child);
      return child;
    },
    async drained(withinMs = 120_000) {
      const untilMs = Date.now() + withinMs;
      for (let late = await behind(); late.length > 0; late = await behind()) {
        if (Date.now() > untilMs) throw new Error(`not drained within ${withinMs} ms: ${late.join(', ')}`);
        await sleep(200);
      }
    },
    async stop() {
      await Promise.all(members.map((member) => member.end('SIGKILL')));
      await producer.close();
    },
  };
}

/** All findings of a machine, over all pages. */
export async function allFindings(store: Store, machineId: string) {
  const found = [];
  let cursor: string | undefined;
  do {
    const page = await store.listFindings({ machineId, limit: 200, cursor });
    found.push(...page.items);
    cursor = page.nextCursor ?? undefined;
  } while (cursor !== undefined);
  return found;
}
