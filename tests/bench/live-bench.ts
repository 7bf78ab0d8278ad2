/** Kafka to committed, against the bare client on the same topics in the same run; and what 10 000 machines take in memory. */

import { spawnSync } from 'node:child_process';
import { chmodSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import { builtInThresholds } from '@warmbrick/analysis';
import { decodeSampleMessage } from '@warmbrick/contracts';
import { startKafkaIngest } from '@warmbrick/ingest';
import { createProducer } from '@warmbrick/kafka';
import { type SampleBlock, sliceBlock } from '@warmbrick/signals';
import { type EmbeddedPostgres, openStore, startEmbeddedPostgres } from '@warmbrick/store';
import type { OutMessage } from '../integration/ingest-world.js';
import { packetMessage, singleMessages } from '../integration/messages.js';
import { findKafka, quiet, type TestKafka } from '../kafka/kafka-provider.js';
import { cpuOf, cpuOfBroker, cpuOfMainThread } from './cpu-time.js';
import { type MemoryFigures, sixChannels } from './live-memory.js';

/** One way of sending the same samples. */
export interface DrainFigures {
  readonly messages: number;
  readonly samples: number;
  readonly megabytes: number;
  readonly bareMessagesPerS: number;
  readonly ingestMessagesPerS: number;
  readonly ingestSamplesPerS: number;
  readonly ingestToBare: number;
  /** Processor time of our process in the bare drain, and its ratio to that in ingest: what other programs do hardly changes it. */
  readonly bareCpuS: number;
  readonly bareCpuToOwn: number;
  readonly ingestSamplesPerOwnCpuS: number;
  /** Processor time that decoding the same messages takes by itself, s: what nobody who reads them can save. */
  readonly decodeS: number;
  /** Processor time of our process, of the database and of the broker while it was drained, s; and how long that took. */
  readonly ownCpuS: number;
  /** Of it, that of the thread that reads and commits. */
  readonly mainCpuS: number;
  readonly databaseCpuS: number;
  readonly brokerCpuS: number;
  readonly tookS: number;
  readonly transactions: number;
  readonly peakMemoryMb: number;
}

export interface LiveFigures {
  readonly rounds: number;
  readonly machines: number;
  readonly singles: DrainFigures;
  readonly packets: DrainFigures;
  readonly memory: MemoryFigures;
}

const machines = 150;
const partitions = 8;
const packetLength = 60;
const rounds = 3;
/** Long enough for a thread that has just begun to run at full speed most of the time. */
const packetSamplesPerMachine = 72_000;
const singlesPerMachine = 4000;

/** Measures everything; null where there is no Kafka. */
export async function measureLive(): Promise<LiveFigures | null> {
  const kafka = await findKafka({ nodes: 1 });
  if (kafka === null) return null;
  const folder = mkdtempSync(join(tmpdir(), 'warmbrick-bench-'));
  chmodSync(folder, 0o755);
  const postgres = await startEmbeddedPostgres({ dataDir: join(folder, 'data') });
  try {
    const day = sixChannels();
    if (day.timeMs.length < packetSamplesPerMachine) throw new Error('the simulation sent too little');
    const packets = await fill(kafka, day, {
      count: packetSamplesPerMachine / packetLength,
      samples: packetLength,
      toMessage: (block) => packetMessage('', block),
    });
    const singles = await fill(kafka, day, {
      count: singlesPerMachine,
      samples: 1,
      toMessage: (block) => singleMessages('', block)[0] as OutMessage,
    });
    return {
      rounds,
      machines,
      packets: await measureDrain({ kafka, postgres, folder }, packets),
      singles: await measureDrain({ kafka, postgres, folder }, singles),
      memory: measureMemoryApart(),
    };
  } finally {
    await postgres.stop();
    await kafka.stop();
    rmSync(folder, { recursive: true, force: true });
  }
}

interface Filled {
  readonly topic: string;
  readonly messages: number;
  readonly samples: number;
  readonly bytes: number;
  /** Processor time of decoding all of it, s. */
  readonly decodeS: number;
}

interface Place {
  readonly kafka: TestKafka;
  readonly postgres: EmbeddedPostgres;
  readonly folder: string;
}

interface Form {
  /** Messages of each machine, and samples of each message. */
  readonly count: number;
  readonly samples: number;
  readonly toMessage: (block: SampleBlock) => OutMessage;
}

/** Machines take turns, as they do when they send at the same time. Nothing is kept: a full memory would slow the rest down. */
async function fill(kafka: TestKafka, day: SampleBlock, { count, samples, toMessage }: Form): Promise<Filled> {
  const topic = await kafka.freshTopic(partitions);
  const producer = await createProducer(kafka.client('filler'));
  let bytes = 0;
  let decodeS = 0;
  let sent: Promise<void>[] = [];
  for (let n = 0; n < count; n++) {
    const block = sliceBlock(day, n * samples, (n + 1) * samples);
    const values: Buffer[] = [];
    for (let k = 0; k < machines; k++) {
      const { key, value } = toMessage({ ...block, machineId: `bench-${k}` });
      values.push(Buffer.from(value as string));
      sent.push(producer.send({ topic, key, value }));
    }
    bytes += values.reduce((sum, { length }) => sum + length, 0);
    decodeS += decodeAll(values, machines * samples);
    if (n % 20 !== 19 && n < count - 1) continue;
    await Promise.all(sent);
    sent = [];
  }
  await producer.close();
  return { topic, messages: machines * count, samples: machines * count * samples, bytes, decodeS };
}

async function measureDrain(place: Place, filled: Filled): Promise<DrainFigures> {
  const bare: Awaited<ReturnType<typeof drainBare>>[] = [];
  const ingested: Awaited<ReturnType<typeof ingest>>[] = [];
  for (let round = 0; round < rounds; round++) {
    bare.push(await drainBare(place.kafka, filled));
    ingested.push(await ingest(place, filled, round));
  }
  const middle = ingested.sort((a, b) => a.tookMs - b.tookMs)[Math.floor(rounds / 2)] as (typeof ingested)[number];
  const bareMiddle = bare.sort((a, b) => a.tookMs - b.tookMs)[Math.floor(rounds / 2)] as (typeof bare)[number];
  const bareMs = bareMiddle.tookMs;
  const { messages, samples, bytes } = filled;
  return {
    messages,
    samples,
    megabytes: bytes / 1e6,
    bareMessagesPerS: (messages / bareMs) * 1000,
    ingestMessagesPerS: (messages / middle.tookMs) * 1000,
    ingestSamplesPerS: (samples / middle.tookMs) * 1000,
    ingestToBare: bareMs / middle.tookMs,
    bareCpuS: bareMiddle.cpuS,
    bareCpuToOwn: bareMiddle.cpuS / middle.ownCpuS,
    ingestSamplesPerOwnCpuS: samples / middle.ownCpuS,
    decodeS: filled.decodeS,
    ownCpuS: middle.ownCpuS,
    mainCpuS: middle.mainCpuS,
    databaseCpuS: middle.databaseCpuS,
    brokerCpuS: middle.brokerCpuS,
    tookS: middle.tookMs / 1000,
    transactions: middle.transactions,
    peakMemoryMb: process.resourceUsage().maxRSS / 1024,
  };
}

function decodeAll(values: readonly Buffer[], samples: number): number {
  const before = process.cpuUsage();
  let decoded = 0;
  for (const value of values) {
    const message = decodeSampleMessage(value, Date.now());
    if (message.form === 'samples') decoded += message.block.timeMs.length;
  }
  const { user, system } = process.cpuUsage(before);
  if (decoded !== samples) throw new Error(`decoded ${decoded} of ${samples} samples`);
  return (user + system) / 1e6;
}

/** The client alone: it fetches, unpacks and counts. From the join to the last message. */
async function drainBare(kafka: TestKafka, { topic, messages }: Filled): Promise<{ tookMs: number; cpuS: number }> {
  const consumer = kafka.client('bare').kafka.consumer({ groupId: kafka.freshName('bare'), maxWaitTimeInMs: 250 });
  await consumer.connect();
  await consumer.subscribe({ topics: [topic], fromBeginning: true });
  let seen = 0;
  let joinedMs = 0;
  let joinedCpu = process.cpuUsage();
  consumer.on(consumer.events.GROUP_JOIN, () => {
    if (joinedMs === 0) joinedCpu = process.cpuUsage();
    joinedMs ||= performance.now();
  });
  await consumer.run({
    eachBatch: async ({ batch }) => {
      seen += batch.messages.length;
    },
  });
  while (seen < messages) await sleep(5);
  const tookMs = performance.now() - joinedMs;
  const cpu = process.cpuUsage(joinedCpu);
  await consumer.disconnect();
  return { tookMs, cpuS: (cpu.user + cpu.system) / 1e6 };
}

interface Beginning {
  readonly ms: number;
  readonly cpu: NodeJS.CpuUsage;
  readonly main: number;
  readonly database: number;
  readonly broker: number;
}

/** From the join to the last commit, into a database of its own. */
async function ingest({ kafka, postgres }: Place, { topic, samples }: Filled, round: number) {
  const name = `bench_${topic.replaceAll('-', '_')}_${round}`;
  const databaseUrl = await createDatabase(postgres.connectionString, name);
  const store = await openStore({ connectionString: databaseUrl, outbox: true });
  const client = kafka.client('ingest');
  const producer = await createProducer(client);
  const faultsTopic = await kafka.freshTopic(1);
  let began: Beginning | null = null;
  const pid = postgres.pid() as number;
  const running = await startKafkaIngest({
    client,
    producer,
    store,
    thresholds: builtInThresholds,
    logger: quiet,
    onFatal: (error) => {
      throw error;
    },
    onAssigned: () => {
      began ??= {
        ms: performance.now(),
        cpu: process.cpuUsage(),
        main: cpuOfMainThread(),
        database: cpuOf(pid),
        broker: cpuOfBroker(),
      };
    },
    settings: {
      instanceName: 'bench',
      groupId: kafka.freshName('bench'),
      samplesTopic: topic,
      faultsTopic,
      rejectsTopic: null,
    },
  });
  while (running.stats().samples < samples) await sleep(5);
  const start = began as unknown as Beginning;
  const tookMs = performance.now() - start.ms;
  const cpu = process.cpuUsage(start.cpu);
  const figures = {
    tookMs,
    ownCpuS: (cpu.user + cpu.system) / 1e6,
    mainCpuS: cpuOfMainThread() - start.main,
    databaseCpuS: cpuOf(pid) - start.database,
    brokerCpuS: cpuOfBroker() - start.broker,
    transactions: running.stats().transactions,
  };
  await running.stop();
  await producer.close();
  await store.close();
  return figures;
}

async function createDatabase(connectionString: string, name: string): Promise<string> {
  const { default: pg } = await import('pg');
  const client = new pg.Client({ connectionString });
  await client.connect();
  await client.query(`CREATE DATABASE ${name}`);
  await client.end();
  return connectionString.replace(/^(\w+:\/\/[^/]*)\/[^?]*/, `$1/${name}`);
}

/** In a process of its own, where nothing else is in memory. */
function measureMemoryApart(): MemoryFigures {
  const script = fileURLToPath(new URL('live-memory-main.ts', import.meta.url));
  const child = spawnSync(process.execPath, ['--expose-gc', ...process.execArgv, script], {
    encoding: 'utf8',
    stdio: ['ignore', 'pipe', 'inherit'],
  });
  if (child.status !== 0) throw new Error('the memory of the machines could not be measured');
  return JSON.parse(child.stdout) as MemoryFigures;
}
