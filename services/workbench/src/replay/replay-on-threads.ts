/** Replay of many machines on several threads, with the same result as on one. */

import type { ReplayDocument } from '@warmbrick/contracts';
import { type ParquetPart, partsOf } from '@warmbrick/recordings';
import { Piscina } from 'piscina';
import { type ReplayInput, type ReplayOutcome, replayRecordings } from '../replay-recordings.js';
import type { PartOutcome, PartTask } from './replay-part.js';

/** Rows that are worth a part. Source: measured; a thread takes half a second to be at full speed. */
const leastRows = 2_000_000;
/** Parts a thread, so that none waits long for the last and progress shows. Source: design decision. */
const partsAThread = 4;

/**
 * Replays on up to so many threads where the recording is one Parquet file with machine after machine; else, or when anything about
 * the file is out of the ordinary, on this one.
 *
 * Errors: those of `replayRecordings`. Laws: the document is the same, byte for byte, for any number of threads.
 */
export async function replayOnThreads(
  input: ReplayInput,
  threads: number,
  rowsEach = leastRows,
): Promise<ReplayOutcome> {
  const canPart = threads > 1 && input.reading.onlyMachineId === undefined;
  const parts = canPart ? await partsOf(input.paths, { rowsEach }) : null;
  if (parts === null || parts.length < 2) return replayRecordings(input);
  const outcomes = await replayParts(input, joined(parts, threads * partsAThread), threads);
  const document = merged(outcomes);
  if (document === null) return replayRecordings(input);
  for (const { rows } of outcomes) for (const [machineId, row] of rows) input.onRow?.(machineId, row);
  return { document, damage: null };
}

/** Neighbouring parts put together until there are no more than so many. */
function joined(parts: readonly ParquetPart[], most: number): ParquetPart[] {
  const all = parts.reduce((sum, { rows }) => sum + rows, 0);
  const larger: ParquetPart[] = [];
  for (const part of parts) {
    const before = larger.at(-1);
    if (before === undefined || before.rows >= all / most) larger.push(part);
    else {
      const machines = [...before.machines, ...part.machines];
      larger[larger.length - 1] = { firstRow: before.firstRow, rows: before.rows + part.rows, machines };
    }
  }
  return larger;
}

async function replayParts(input: ReplayInput, parts: readonly ParquetPart[], threads: number): Promise<PartOutcome[]> {
  const isSource = import.meta.url.endsWith('.ts');
  const pool = new Piscina<PartTask, PartOutcome>({
    filename: new URL(`./part-worker.${isSource ? 'ts' : 'js'}`, import.meta.url).href,
    name: 'replayInWorker',
    minThreads: threads,
    maxThreads: threads,
    // From the sources, as tests run, a worker has to be told how to read them. Built, it needs nothing of what this process was
    // started with: a reader of sources alone makes it half as slow again.
    execArgv: isSource ? ['--import', 'tsx', '--conditions=source'] : [],
  });
  let samples = 0;
  const run = async (part: ParquetPart): Promise<PartOutcome> => {
    const { thresholds, reading } = input;
    const profiles = part.machines.map(({ machineId }) => input.profiles.profileOf(machineId as string));
    const wantsRows = input.onRow !== undefined;
    const outcome = await pool.run({ path: input.paths[0] as string, part, profiles, thresholds, reading, wantsRows });
    samples += outcome.document?.reading.samples ?? 0;
    input.onProgress?.(samples);
    return outcome;
  };
  try {
    return await Promise.all(parts.map(run));
  } finally {
    await pool.destroy();
  }
}

/** One document out of those of the parts; null when one of them is not plain, so that counts and places need the whole. */
function merged(outcomes: readonly PartOutcome[]): ReplayDocument | null {
  const documents = outcomes.flatMap(({ document }) => (document === null ? [] : [document]));
  const [first] = documents;
  if (first === undefined || documents.length < outcomes.length || !documents.every(isPlain)) return null;
  const warnings = JSON.stringify(first.reading.warnings);
  if (documents.some(({ reading }) => JSON.stringify(reading.warnings) !== warnings)) return null;
  const machines = documents.flatMap((document) => document.machines);
  machines.sort((a, b) => (a.machineId < b.machineId ? -1 : 1));
  const samples = documents.reduce((sum, { reading }) => sum + reading.samples, 0);
  return { ...first, machines, reading: { ...first.reading, samples } };
}

function isPlain({ reading, rejects }: ReplayDocument): boolean {
  return rejects.count === 0 && reading.duplicates === 0 && reading.conflicts === 0 && reading.wasSorted;
}
