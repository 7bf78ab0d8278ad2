/** A fleet's month from Parquet: replay, decoding alone and SQL, each in a process of its own, on one core and on two. */

import { once } from 'node:events';
import { performance } from 'node:perf_hooks';
import { Worker } from 'node:worker_threads';
import { analysedChannels, builtInThresholds } from '@warmbrick/analysis';
import { type ParquetPart, partsOf, readInOrder } from '@warmbrick/recordings';
import { defaultProfile } from '@warmbrick/signals';
import { letHeapGrow, replayOnThreads } from '@warmbrick/workbench';
import { type SqlAnswer, sqlAnswer, sumOfAnswers } from './duckdb-sql.js';

export const fleetWorks = ['replay', 'decode', 'sql'] as const;
export type FleetWork = (typeof fleetWorks)[number];

export interface FleetFigures {
  readonly work: FleetWork;
  readonly threads: number;
  readonly samples: number;
  readonly s: number;
  readonly cpuS: number;
  readonly peakMemoryMb: number;
  /** What came out for the machines that SQL takes, so that both ways can be seen to say the same. */
  readonly idleStreaks: number | null;
  readonly hotShutdowns: number | null;
}

/** Machines that SQL takes at a time: window functions over the whole file need more memory than there is. */
const portion = 10;
/** Machines that SQL takes in all, as it takes as long for each: all of them would take it half an hour. */
const sqlMachines = 20;
/** Rows of a part that is decoded by itself: about as many as a replay on threads takes. */
const decodedRows = 16_000_000;

/** Does one of the works once, in this process; the caller has put it on so many cores. */
export async function measureFleet(path: string, work: FleetWork, threads: number): Promise<FleetFigures> {
  letHeapGrow();
  const fromMs = performance.now();
  const answer = await works[work](path, threads);
  const used = process.cpuUsage();
  return {
    work,
    threads,
    s: (performance.now() - fromMs) / 1000,
    cpuS: (used.user + used.system) / 1e6,
    peakMemoryMb: process.resourceUsage().maxRSS / 1024,
    ...answer,
  };
}

type Answer = Pick<FleetFigures, 'samples' | 'idleStreaks' | 'hotShutdowns'>;

const works: Readonly<Record<FleetWork, (path: string, threads: number) => Promise<Answer>>> = {
  async replay(path, threads) {
    const input = {
      paths: [path],
      profiles: { profileOf: () => defaultProfile },
      thresholds: builtInThresholds,
      reading: {},
    };
    const { document } = await replayOnThreads(input, threads);
    const compared = new Set(comparedMachines(document.machines.map(({ machineId }) => machineId)));
    const findings = document.machines.filter((one) => compared.has(one.machineId)).flatMap((one) => one.findings);
    const count = (kind: string) => findings.filter((finding) => finding.kind === kind).length;
    const { samples } = document.reading;
    return { samples, idleStreaks: count('idle-streak'), hotShutdowns: count('hot-shutdown') };
  },
  async decode(path, threads) {
    const nothing = { idleStreaks: null, hotShutdowns: null };
    if (threads === 1) {
      const sink = { block: () => {}, restart: () => {} };
      const { samples } = await readInOrder([path], { channels: analysedChannels, lendBlocks: true }, sink);
      return { samples, ...nothing };
    }
    const parts = await machineParts(path, decodedRows);
    const each = Math.ceil(parts.length / threads);
    const samples = await Promise.all(
      Array.from({ length: threads }, (_, k) => decodeInWorker(path, parts.slice(k * each, (k + 1) * each))),
    );
    return { samples: samples.reduce((sum, value) => sum + value, 0), ...nothing };
  },
  async sql(path, threads) {
    const machines = (await machineParts(path, 1)).flatMap((part) => part.machines);
    const ids = comparedMachines(machines.map(({ machineId }) => machineId as string));
    const isCompared = new Set<string | null>(ids);
    const answers: SqlAnswer[] = [];
    for (let k = 0; k < ids.length; k += portion) {
      const names = ids.slice(k, k + portion);
      // By its ends, so that whatever lies outside of them is not even read.
      const source = `(FROM read_parquet('${path}') WHERE machineId BETWEEN '${names[0]}' AND '${names.at(-1)}')`;
      answers.push(await sqlAnswer(source, threads));
    }
    const { idleStreaks, hotShutdowns } = sumOfAnswers(answers);
    const taken = machines.filter(({ machineId }) => isCompared.has(machineId));
    return { samples: taken.reduce((sum, { rows }) => sum + rows, 0), idleStreaks, hotShutdowns };
  },
};

/** The machines that SQL takes. */
function comparedMachines(all: readonly string[]): string[] {
  return [...all].sort().slice(0, sqlMachines);
}

async function machineParts(path: string, rowsEach: number): Promise<ParquetPart[]> {
  const parts = await partsOf([path], { rowsEach });
  if (parts === null) throw new Error(`${path} cannot be read in parts`);
  return parts;
}

/** In a thread of built code, as replays have them: what reads sources makes a thread slow. */
async function decodeInWorker(path: string, parts: readonly ParquetPart[]): Promise<number> {
  const recordings = JSON.stringify(import.meta.resolve('@warmbrick/recordings'));
  const code = `const { parentPort, workerData: { path, parts, channels } } = require('node:worker_threads');
    import(${recordings}).then(async ({ readInOrder }) => {
      const sink = { block: () => {}, restart: () => {} };
      let samples = 0;
      for (const part of parts) samples += (await readInOrder([path], { channels, lendBlocks: true, part }, sink)).samples;
      parentPort.postMessage(samples);
    });`;
  const worker = new Worker(code, {
    eval: true,
    execArgv: [],
    workerData: { path, parts, channels: analysedChannels },
  });
  const [samples] = (await once(worker, 'message')) as [number];
  return samples;
}
