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
import { packetMessage, singleMessages } from '../integration/messages.js';
import { findKafka, quiet, type TestKafka } from '../kafka/kafka-provider.js';
import { cpuOf, cpuOfBroker } from './cpu-time.js';
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

const machines = 50;
const partitions = 8;
const packetLength = 60;
const rounds = 3;
const packetSamplesPerMachine = 24_000;
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
    const packets = await fill(
      kafka,
      (block) =>
        Array.from({ length: packetSamplesPerMachine / packetLength }, (_, n) =>
          packetMessage('', sliceBlock(block, n * packetLength, (n + 1) * packetLength)),
        ),
      day,
    );
    const singles = await fill(kafka, (block) => singleMessages('', sliceBlock(block, 0, singlesPerMachine)), day);
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
  readonly values: readonly Buffer[];
}

interface Place {
  readonly kafka: TestKafka;
  readonly postgres: EmbeddedPostgres;
  readonly folder: string;
}

type ToMessages = (block: SampleBlock) => readonly { key: string; value: string | Buffer }[];

/** Machines take turns, as they do when they send at the same time. */
async function fill(kafka: TestKafka, toMessages: ToMessages, day: SampleBlock): Promise<Filled> {
  const topic = await kafka.freshTopic(partitions);
  const producer = await createProducer(kafka.client('filler'));
  const perMachine = Array.from({ length: machines }, (_, k) => toMessages({ ...day, machineId: `bench-${k}` }));
  const length = perMachine[0]?.length ?? 0;
  const values: Buffer[] = [];
  let bytes = 0;
  for (let n = 0; n < length; n++) {
    const sent = perMachine.map((messages) => {
      const { key, value } = messages[n] as { key: string; value: string };
      bytes += value.length;
      values.push(Buffer.from(value));
      return producer.send({ topic, key, value });
    });
    if (n % 20 === 19 || n === length - 1) await Promise.all(sent);
  }
  await producer.close();
  const samples = machines * (length === singlesPerMachine ? singlesPerMachine : packetSamplesPerMachine);
  return { topic, messages: machines * length, samples, bytes, values };
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
    decodeS: decodeAll(filled),
    ownCpuS: middle.ownCpuS,
    databaseCpuS: middle.databaseCpuS,
    brokerCpuS: middle.brokerCpuS,
    tookS: middle.tookMs / 1000,
    transactions: middle.transactions,
    peakMemoryMb: process.resourceUsage().maxRSS / 1024,
  };
}

function decodeAll({ values, samples }: Filled): number {
  const before = process.cpuUsage();
  let decoded = 0;
  for (const value of values) {
    const message = decodeSampleMessage(value, Date.now());
    if (message.form === 'samples') decoded += message.block.timeMs.length;
  }
  if (decoded !== samples) throw new Error(`decoded ${decoded} of ${samples} samples`);
  const { user, system } = process.cpuUsage(before);
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

/** From the join to the last commit, into a database of its own. */
async function ingest({ kafka, postgres }: Place, { topic, samples }: Filled, round: number) {
  const name = `bench_${topic.replaceAll('-', '_')}_${round}`;
  const databaseUrl = await createDatabase(postgres.connectionString, name);
  const store = await openStore({ connectionString: databaseUrl, outbox: true });
  const client = kafka.client('ingest');
  const producer = await createProducer(client);
  const faultsTopic = await kafka.freshTopic(1);
  let began: { ms: number; cpu: NodeJS.CpuUsage; database: number; broker: number } | null = null;
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
      began ??= { ms: performance.now(), cpu: process.cpuUsage(), database: cpuOf(pid), broker: cpuOfBroker() };
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
  const start = began as unknown as { ms: number; cpu: NodeJS.CpuUsage; database: number; broker: number };
  const tookMs = performance.now() - start.ms;
  const cpu = process.cpuUsage(start.cpu);
  const figures = {
    tookMs,
    ownCpuS: (cpu.user + cpu.system) / 1e6,
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
  const script = fileURLToPath(new URL('main.ts', import.meta.url));
  const child = spawnSync(
    process.execPath,
    ['--expose-gc', ...process.execArgv, script, 'live-memory', '--in-process'],
    {
      encoding: 'utf8',
      stdio: ['ignore', 'pipe', 'inherit'],
    },
  );
  if (child.status !== 0) throw new Error('the memory of the machines could not be measured');
  return JSON.parse(child.stdout) as MemoryFigures;
}
