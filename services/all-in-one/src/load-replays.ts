/** Loads recorded cases through the pipeline as fast as it takes them, each once. */

import type { Ingest } from '@warmbrick/ingest';
import { readInOrder } from '@warmbrick/recordings';
import { OperatingError } from '@warmbrick/runtime';
import { type FaultReport, type SampleBlock, sliceBlock } from '@warmbrick/signals';
import type { Store } from '@warmbrick/store';
import { findCaseFolders, type ReplayCase, readCase } from './replay-case.js';

/** Machine time of one batch. Source: engineering judgement: small enough to stop soon, large enough to be fast. */
const batchMs = 3_600_000;
/** Samples of one case at most; it is held in memory while it is loaded. Source: engineering judgement: about 1 GB. */
const mostSamples = 10_000_000;

export interface ReplayLoad {
  readonly store: Store;
  readonly ingest: Ingest;
  readonly folder: string;
  readonly signal: AbortSignal;
  /** Told of a case that cannot be used; the others are loaded all the same. */
  readonly onSkipped: (error: OperatingError) => void;
}

export interface ReplayOutcome {
  readonly cases: number;
  /** Cases that an earlier start had loaded already. */
  readonly known: number;
  readonly samples: number;
}

/** Loads every case of the folder that is not in the store yet; goes on where an earlier start was interrupted. */
export async function loadReplays(load: ReplayLoad): Promise<ReplayOutcome> {
  let cases = 0;
  let known = 0;
  let samples = 0;
  for (const folder of await findCaseFolders(load.folder)) {
    if (load.signal.aborted) break;
    try {
      const found = await readCase(folder);
      if (found === null) continue;
      const loaded = await loadCase(load, found);
      cases++;
      if (loaded === null) known++;
      else samples += loaded;
    } catch (error) {
      if (!(error instanceof OperatingError) || isOurs(error)) throw error;
      load.onSkipped(error);
    }
  }
  return { cases, known, samples };
}

/** Whether the failure is the store's or the pipeline's and not the recording's. */
function isOurs(error: OperatingError): boolean {
  return error.isRetriable || /^(store|ingest|fenced|cursor|damaged-chunk|chunk)/.test(error.code);
}

/** Samples that were new, or null when nothing was left to load. */
async function loadCase({ store, ingest, signal }: ReplayLoad, found: ReplayCase): Promise<number | null> {
  const source = `replay-data/${found.name}/${found.fingerprint}`;
  // Partition 0 counts batches, partition 1 says that all of them are in.
  const whole = await store.claim(source, 1);
  if (whole.nextOffset > 0) return null;
  const position = await store.claim(source, 0);
  for (const [machineId, profile] of Object.entries(found.machines)) await ingest.register(machineId, profile);
  const { blocks, reports } = await readRecordings(found);
  const batches = cutByTime(blocks, reports);
  let samples = 0;
  for (let at = position.nextOffset; at < batches.length; at++) {
    if (signal.aborted) return samples;
    const { blocks, reports } = batches[at] as Batch;
    const cursor = { source, partition: 0, epoch: position.epoch, nextOffset: at + 1 };
    await ingest.accept(blocks, { reports, cursor, isRecorded: true });
    samples += blocks.reduce((sum, block) => sum + block.timeMs.length, 0);
  }
  const cursor = { source, partition: 1, epoch: whole.epoch, nextOffset: 1 };
  await ingest.accept([], { cursor, isRecorded: true });
  return samples;
}

interface Batch {
  readonly blocks: SampleBlock[];
  readonly reports: FaultReport[];
}

async function readRecordings(found: ReplayCase): Promise<Batch> {
  let blocks: SampleBlock[] = [];
  let reports: FaultReport[] = [];
  let samples = 0;
  await readInOrder(
    found.recordings,
    {},
    {
      block: (block) => {
        samples += block.timeMs.length;
        if (samples > mostSamples) throw tooLarge(found.name);
        blocks.push(block);
      },
      faults: (more) => {
        reports.push(...more);
      },
      restart: () => {
        blocks = [];
        reports = [];
        samples = 0;
      },
    },
  );
  return { blocks, reports };
}

function tooLarge(name: string): OperatingError {
  return new OperatingError(`The recordings hold more than ${mostSamples} samples.`, {
    code: 'case-too-large',
    where: name,
    remedy: 'Cut them into several cases, or replay them with the warmbrick command.',
  });
}

/** Batches of an hour of all machines, in order of time. */
function cutByTime(blocks: readonly SampleBlock[], reports: readonly FaultReport[]): Batch[] {
  const byHour = new Map<number, Batch>();
  const batchOf = (timeMs: number): Batch => {
    const hour = Math.floor(timeMs / batchMs);
    const batch = byHour.get(hour) ?? { blocks: [], reports: [] };
    byHour.set(hour, batch);
    return batch;
  };
  for (const block of blocks) {
    const { timeMs } = block;
    for (let from = 0; from < timeMs.length; ) {
      const hour = Math.floor((timeMs[from] as number) / batchMs);
      let to = from + 1;
      while (to < timeMs.length && Math.floor((timeMs[to] as number) / batchMs) === hour) to++;
      batchOf(timeMs[from] as number).blocks.push(sliceBlock(block, from, to));
      from = to;
    }
  }
  for (const report of reports) batchOf(report.timeMs).reports.push(report);
  return [...byHour].sort(([a], [b]) => a - b).map(([, batch]) => batch);
}
