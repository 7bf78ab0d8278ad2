/** Replay throughput: Parquet to findings, beside decoding alone and beside SQL, in one run on one core. */

import { performance } from 'node:perf_hooks';
import { analysedChannels, builtInThresholds } from '@warmbrick/analysis';
import { readInOrder } from '@warmbrick/recordings';
import { defaultProfile } from '@warmbrick/signals';
import { letHeapGrow, replayRecordings } from '@warmbrick/workbench';
import { benchFile } from './bench-file.js';
import { sqlAnswer } from './duckdb-sql.js';

export interface ReplayFigures {
  readonly samples: number;
  readonly fileBytes: number;
  readonly rounds: number;
  /** Million samples per second of elapsed time, median of the rounds. */
  readonly replayMSamplesPerS: number;
  readonly decodeMSamplesPerS: number;
  readonly sqlMSamplesPerS: number;
  /** Medians of the ratios round by round. */
  readonly replayToSql: number;
  readonly replayTimeToDecodeTime: number;
  readonly replayCpuS: number;
  readonly peakMemoryMb: number;
  /** Both ways must say the same, or the comparison means nothing. */
  readonly answers: { readonly replay: Answer; readonly sql: Answer };
}

interface Answer {
  readonly runningS: number;
  readonly belowS: number;
  readonly idleStreaks: number;
  readonly hotShutdowns: number;
}

const rounds = 5;

/** Measures; the caller has put the process on one core. */
export async function measureReplay(machines: number, days: number): Promise<ReplayFigures> {
  letHeapGrow();
  const file = await benchFile(machines, days);
  let samples = 0;
  const replay = async () => {
    const { document } = await replayRecordings({
      paths: [file.path],
      profiles: { profileOf: () => defaultProfile },
      thresholds: builtInThresholds,
      reading: {},
    });
    samples = document.reading.samples;
    return answerOf(document.machines);
  };
  const decode = async () => {
    const sink = { block: () => {}, restart: () => {} };
    await readInOrder([file.path], { channels: analysedChannels, lendBlocks: true }, sink);
  };
  const sql = () => sqlAnswer(`read_parquet('${file.path}')`, 1);

  const replayAnswer = await replay();
  const sqlResult = await sql();
  await decode();
  const times = { replay: [] as number[], decode: [] as number[], sql: [] as number[], cpu: [] as number[] };
  for (let round = 0; round < rounds; round++) {
    times.decode.push(await timed(decode));
    const cpu = process.cpuUsage();
    times.replay.push(await timed(replay));
    const used = process.cpuUsage(cpu);
    times.cpu.push((used.user + used.system) / 1e6);
    times.sql.push(await timed(sql));
  }
  const ratios = (a: readonly number[], b: readonly number[]) => median(a.map((value, k) => value / (b[k] as number)));
  const rate = (list: readonly number[]) => samples / median(list) / 1e6;
  return {
    samples,
    fileBytes: file.bytes,
    rounds,
    replayMSamplesPerS: rate(times.replay),
    decodeMSamplesPerS: rate(times.decode),
    sqlMSamplesPerS: rate(times.sql),
    replayToSql: ratios(times.sql, times.replay),
    replayTimeToDecodeTime: ratios(times.replay, times.decode),
    replayCpuS: median(times.cpu),
    peakMemoryMb: process.resourceUsage().maxRSS / 1024,
    answers: { replay: replayAnswer, sql: sqlResult },
  };
}

function answerOf(
  machines: readonly { residency: { runningS: number; belowS: number }; findings: readonly { kind: string }[] }[],
): Answer {
  const count = (kind: string) =>
    machines.reduce((sum, machine) => sum + machine.findings.filter((finding) => finding.kind === kind).length, 0);
  return {
    runningS: machines.reduce((sum, machine) => sum + machine.residency.runningS, 0),
    belowS: machines.reduce((sum, machine) => sum + machine.residency.belowS, 0),
    idleStreaks: count('idle-streak'),
    hotShutdowns: count('hot-shutdown'),
  };
}

async function timed(work: () => Promise<unknown>): Promise<number> {
  const from = performance.now();
  await work();
  return (performance.now() - from) / 1000;
}

function median(list: readonly number[]): number {
  const sorted = [...list].sort((a, b) => a - b);
  return sorted[Math.floor(sorted.length / 2)] as number;
}
