/** Kafka to committed, against the bare client on the same topics in the same run; and what 10 000 machines take in memory. */

import { type ChildProcess, spawn, spawnSync } from 'node:child_process';
import { once } from 'node:events';
import { chmodSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import type { Readable } from 'node:stream';
import { setTimeout as sleep } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import { decodeSampleMessage } from '@warmbrick/contracts';
import { createProducer } from '@warmbrick/kafka';
import { type SampleBlock, sliceBlock } from '@warmbrick/signals';
import { type EmbeddedPostgres, openStore, startEmbeddedPostgres } from '@warmbrick/store';
import pg from 'pg';
import type { OutMessage } from '../integration/ingest-world.js';
import { packetMessage, singleMessages } from '../integration/messages.js';
import { findKafka, type TestKafka } from '../kafka/kafka-provider.js';
import { cpuOf, cpuOfBroker, cpuOfMainThread, cpuOfOne, peakMemoryMb } from './cpu-time.js';
import { type MemoryFigures, sixChannels } from './live-memory.js';
import { createPace, type PaceFigures } from './pace.js';

/** One way of sending the same samples. */
export interface DrainFigures {
  readonly messages: number;
  readonly samples: number;
  readonly megabytes: number;
  readonly bare: PaceFigures;
  readonly ingest: IngestFigures;
  /** Processor time that decoding the same messages takes by itself, s: what nobody who reads them can save. */
  readonly decodeS: number;
}

/** Beside the pace: processor time of the thread that reads and commits, of the database and of the broker meanwhile, s. */
interface IngestFigures extends PaceFigures {
  readonly mainCpuS: number;
  readonly databaseCpuS: number;
  readonly brokerCpuS: number;
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
/** Two days: long enough for a thread that has just begun to run at full speed most of the time. Source: measured. */
const packetSamplesPerMachine = 144_000;
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

/**
 * Machines take turns, as they do when they send at the same time, each at another hour of its day: the same values from all of them
 * would shrink to next to nothing in a batch, which those of a fleet do not. Nothing is kept: a full memory would slow the rest down.
 */
async function fill(kafka: TestKafka, day: SampleBlock, { count, samples, toMessage }: Form): Promise<Filled> {
  const topic = await kafka.freshTopic(partitions);
  const producer = await createProducer(kafka.client('filler'));
  const ofDay = Math.floor(day.timeMs.length / samples);
  let bytes = 0;
  let decodeS = 0;
  let sent: Promise<void>[] = [];
  for (let n = 0; n < count; n++) {
    const timeMs = Float64Array.from(
      { length: samples },
      (_, i) => (day.timeMs[0] as number) + (n * samples + i) * 1000,
    );
    const values: Buffer[] = [];
    for (let k = 0; k < machines; k++) {
      const at = (n + Math.floor((k * ofDay) / machines)) % ofDay;
      const { channels } = sliceBlock(day, at * samples, (at + 1) * samples);
      const { key, value } = toMessage({ machineId: `bench-${k}`, timeMs, channels });
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
  const bare: PaceFigures[] = [];
  const ingested: IngestFigures[] = [];
  for (let round = 0; round < rounds; round++) {
    bare.push(await drainBare(place.kafka, filled));
    ingested.push(await ingest(place, filled, round));
  }
  const { messages, samples, bytes, decodeS } = filled;
  return { messages, samples, megabytes: bytes / 1e6, bare: middleOf(bare), ingest: middleOf(ingested), decodeS };
}

function middleOf<Figures extends PaceFigures>(all: readonly Figures[]): Figures {
  return [...all].sort((a, b) => a.steadyPerS - b.steadyPerS)[Math.floor(all.length / 2)] as Figures;
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

/** The client alone: it fetches, unpacks and counts, in a process of its own. */
async function drainBare(kafka: TestKafka, { topic, messages }: Filled): Promise<PaceFigures> {
  const script = fileURLToPath(new URL('bare-drain.ts', import.meta.url));
  const args = [kafka.brokers.join(','), topic, kafka.freshName('bare'), `${messages}`];
  const child = spawn(process.execPath, [...process.execArgv, script, ...args], {
    stdio: ['ignore', 'pipe', 'inherit'],
  });
  const [said] = await once(createInterface({ input: child.stdout }), 'line');
  return JSON.parse(said) as PaceFigures;
}

/** Between looks at what is committed, ms. */
const lookEveryMs = 50;

/** The process as it is shipped, with its usual settings, from the join to the last commit, into a database of its own. */
async function ingest({ kafka, postgres }: Place, { topic, messages }: Filled, round: number): Promise<IngestFigures> {
  const name = `bench_${topic.replaceAll('-', '_')}_${round}`;
  const databaseUrl = await createDatabase(postgres.connectionString, name);
  await (await openStore({ connectionString: databaseUrl })).close();
  const child = spawn(
    process.execPath,
    [fileURLToPath(new URL('../../services/ingest/dist/main.js', import.meta.url))],
    {
      env: {
        ...process.env,
        DATABASE_URL: databaseUrl,
        WARMBRICK_BROKERS: kafka.brokers.join(','),
        WARMBRICK_GROUP_ID: kafka.freshName('bench'),
        WARMBRICK_SAMPLES_TOPIC: topic,
        WARMBRICK_FAULTS_TOPIC: await kafka.freshTopic(1),
        WARMBRICK_REJECTS_TOPIC: await kafka.freshTopic(1),
        WARMBRICK_FINDINGS_TOPIC: await kafka.freshTopic(1),
      },
      stdio: ['ignore', 'inherit', 'pipe'],
    },
  );
  const pid = child.pid as number;
  const databasePid = postgres.pid() as number;
  const others = () => ({ main: cpuOfMainThread(pid), database: cpuOf(databasePid), broker: cpuOfBroker() });
  const client = new pg.Client({ connectionString: databaseUrl });
  await client.connect();
  try {
    const pace = createPace(messages);
    await joined(child);
    const before = others();
    pace.begin(cpuOfOne(pid));
    for (let done = 0; done < messages; await sleep(lookEveryMs)) {
      if (child.exitCode !== null) throw new Error(`ingest ended with code ${child.exitCode}`);
      done = await committed(client, topic);
      pace.tell(done, cpuOfOne(pid));
    }
    const figures = pace.end(cpuOfOne(pid));
    const after = others();
    return {
      ...figures,
      mainCpuS: after.main - before.main,
      databaseCpuS: after.database - before.database,
      brokerCpuS: after.broker - before.broker,
      peakMemoryMb: peakMemoryMb(pid),
    };
  } finally {
    await client.end();
    const gone = once(child, 'exit');
    child.kill('SIGTERM');
    await gone;
  }
}

/** Waits for the line of the log that says so; the rest of the log is passed over. */
async function joined(child: ChildProcess): Promise<void> {
  const lines = createInterface({ input: child.stderr as Readable });
  await new Promise<void>((resolve, reject) => {
    lines.on('line', (line) => {
      if (line.includes('"joined the group"')) resolve();
    });
    child.once('exit', (code) => reject(new Error(`ingest ended with code ${code} before it had joined`)));
  });
}

async function committed(client: pg.Client, topic: string): Promise<number> {
  const text = 'SELECT coalesce(sum(next_offset), 0)::int8 AS done FROM ingest_cursor WHERE source = $1';
  const { rows } = await client.query(text, [`kafka/${topic}`]);
  return Number(rows[0].done);
}

async function createDatabase(connectionString: string, name: string): Promise<string> {
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
