/** One run: machines send, members and servers are killed and frozen, and in the end everything has to be as if not. */

import { chmodSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { openStore, startEmbeddedPostgres } from '@warmbrick/store';
import { createWorld, type IngestWorld } from '../integration/ingest-world.js';
import { randomFrom } from '../integration/messages.js';
import type { TestKafka } from '../kafka/kafka-provider.js';
import type { BrokerNode } from '../kafka/maven-broker.js';
import { runSql } from '../store/postgres.js';
import { type DisturbanceCounts, startMembers } from './disturb.js';
import { makeTraffic, type Traffic } from './traffic.js';
import { type DeliveredNews, judge, readNews, type Verdict } from './verdict.js';

export interface ChaosOptions {
  readonly kafka: TestKafka;
  readonly seconds: number;
  readonly seed: number;
  readonly say: (line: string) => void;
}

export type ChaosOutcome = Verdict & DisturbanceCounts;

const instances = ['north', 'south', 'west'];
const partitions = 6;
const drainWithinMs = 180_000;

/** Runs it. Errors: throws when the group does not drain afterwards, which is a failure of its own. */
export async function runChaos({ kafka, seconds, seed, say }: ChaosOptions): Promise<ChaosOutcome> {
  const folder = mkdtempSync(join(tmpdir(), 'warmbrick-chaos-'));
  // Root's database runs as another user, who has to pass through.
  chmodSync(folder, 0o755);
  const postgres = await startEmbeddedPostgres({ dataDir: join(folder, 'data') });
  const databaseUrl = postgres.connectionString;
  const world = await createWorld(kafka, { databaseUrl, partitions });
  const traffic = makeTraffic(world.names, 6 + Math.floor(seconds / 10), seed);
  const members = startMembers({
    instances,
    startMember: (instance) => world.startMember(instance),
    broker: kafka.nodes[0] as BrokerNode,
    databasePid: () => postgres.pid(),
    random: randomFrom(seed + 1),
    say,
  });
  try {
    const untilMs = Date.now() + seconds * 1000;
    const sending = sendOver(world, traffic, untilMs);
    await members.rage(untilMs);
    await sending;
    say('sent everything; draining');
    await world.drained(drainWithinMs);
    await outboxEmpty(databaseUrl);
    const store = await openStore({ connectionString: databaseUrl });
    const news = await readAllNews(kafka, world.names.findings);
    const verdict = await judge({ store, databaseUrl, traffic, news });
    await store.close();
    return { ...verdict, ...members.counts };
  } finally {
    await members.stop();
    await world.stop();
    await postgres.stop();
    rmSync(folder, { recursive: true, force: true });
  }
}

/** Spreads the messages over the time; a broker that is away holds them up, not back. */
async function sendOver(world: IngestWorld, { lots }: Traffic, untilMs: number): Promise<void> {
  const startedMs = Date.now();
  const sent: Promise<void>[] = [];
  for (const [at, messages] of lots.entries()) {
    const dueMs = startedMs + ((untilMs - startedMs) * at) / lots.length;
    if (dueMs > Date.now()) await sleep(dueMs - Date.now());
    sent.push(world.send(messages));
  }
  await Promise.all(sent);
}

async function outboxEmpty(databaseUrl: string): Promise<void> {
  for (const untilMs = Date.now() + drainWithinMs; ; await sleep(300)) {
    const rows = await runSql(
      databaseUrl,
      `SELECT 1 FROM outbox WHERE sent IS NULL AND topic = 'aftertreatment.findings.v1' LIMIT 1`,
    );
    if (rows.length === 0) return;
    if (Date.now() > untilMs) throw new Error('the outbox was not sent in time');
  }
}

async function readAllNews(kafka: TestKafka, topic: string): Promise<DeliveredNews[]> {
  const client = kafka.client('chaos-reader');
  const admin = client.kafka.admin();
  await admin.connect();
  const ends = await admin.fetchTopicOffsets(topic);
  await admin.disconnect();
  const wanted = ends.reduce((sum, { high, low }) => sum + Number(high) - Number(low), 0);
  const news: DeliveredNews[] = [];
  if (wanted === 0) return news;
  const consumer = client.kafka.consumer({ groupId: kafka.freshName('reader') });
  await consumer.connect();
  try {
    await consumer.subscribe({ topics: [topic], fromBeginning: true });
    await consumer.run({
      eachMessage: async ({ message }) => void news.push(readNews(message.value, message.headers ?? {})),
    });
    for (const untilMs = Date.now() + 30_000; news.length < wanted; await sleep(50)) {
      if (Date.now() > untilMs) throw new Error(`read ${news.length} of ${wanted} news`);
    }
  } finally {
    await consumer.disconnect();
  }
  return news;
}
