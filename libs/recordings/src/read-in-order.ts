/** Reads recordings so that each machine's samples come strictly in order of time, whatever the files are like. */

import { createWriteStream } from 'node:fs';
import { join } from 'node:path';
import { Readable } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import { openSource } from './byte-source.js';
import { candidateChannels } from './candidate-channels.js';
import { withDatabase } from './duckdb.js';
import { createFiller } from './fill-gaps.js';
import { guardOrder } from './order-guard.js';
import { createReadState, type Outlet, type ReadState } from './read-state.js';
import { concludeReading, countingOutlet, type NamedPath, readAll } from './read-unordered.js';
import type { BlockSink, ReadOptions, ReadReport } from './recording.js';
import { noRecordings } from './recording-errors.js';
import { disorder } from './sample-shelves.js';
import { createSortingStore } from './sorting-store.js';
import { withTempFolder } from './temp-folder.js';

/**
 * Hands the samples of all recordings to the sink, for each machine strictly rising in time.
 *
 * Files in order pass straight through. At the first sample that is not later than the one before it the sink is told to
 * restart, and everything comes again through a temporary database, by machine name and time. Samples of one machine at
 * one time are merged channel by channel: a number beats no value, and of two numbers the larger stays, so that no order
 * of arrival changes the result. The same rows in any order, repeated, and spread over any files of named channels in any
 * format give the same samples bit for bit.
 *
 * Missing: NaN; with `fillS` a channel's last value is carried after ordering.
 * Errors: those of the files, all of which are looked at before the first is read; `recording-no-usable-row`;
 * `DamagedRecordingError` after everything readable was delivered.
 */
export async function readInOrder(
  paths: readonly string[],
  options: ReadOptions,
  sink: BlockSink,
): Promise<ReadReport> {
  if (paths.length === 0) throw noRecordings();
  return withTempFolder(async (folder) => {
    const files: NamedPath[] = [];
    for (const [index, path] of paths.entries()) files.push(await layDown(path, join(folder, `piped-${index}`)));
    return (await readStraight(paths, files, { options, sink })) ?? readSorted(paths, files, { options, sink, folder });
  });
}

interface Reading {
  readonly options: ReadOptions;
  readonly sink: BlockSink;
}

/** Checks a recording; what comes through a pipe is laid down, because it may have to be read twice. */
async function layDown(path: string, spoolPath: string): Promise<NamedPath> {
  const source = await openSource(path);
  try {
    if (source.isRereadable) return { path, origin: path };
    await pipeline(Readable.from(source.chunks), createWriteStream(spoolPath));
    return { path: spoolPath, origin: path };
  } finally {
    await source.close();
  }
}

/** The fast path; null when the files turned out not to be in order. */
async function readStraight(
  paths: readonly string[],
  files: readonly NamedPath[],
  reading: Reading,
): Promise<ReadReport | null> {
  const state = createReadState(reading.options);
  const outlet = guardOrder(filled(state, countingOutlet(state, reading.sink)));
  try {
    const damage = await readAll(files, state, { outlet, rule: 'stop' });
    return concludeReading(paths, state, { wasSorted: true, damage });
  } catch (error) {
    if (error !== disorder) throw error;
    reading.sink.restart();
    return null;
  }
}

async function readSorted(
  paths: readonly string[],
  files: readonly NamedPath[],
  reading: Reading & { readonly folder: string },
): Promise<ReadReport> {
  const { options, sink, folder } = reading;
  const state = createReadState(options);
  const channels = await candidateChannels(files, options);
  const damage = await withDatabase({ threads: options.threads ?? 1, folder }, async (database) => {
    const store = await createSortingStore(database, channels);
    const firstDamage = await readAll(files, state, { outlet: store, rule: 'keep' });
    await store.deliver(state, filled(state, countingOutlet(state, sink)));
    return firstDamage;
  });
  return concludeReading(paths, state, { wasSorted: false, damage });
}

function filled(state: ReadState, outlet: Outlet): Outlet {
  const fillS = state.options.fillS ?? 0;
  if (!(fillS > 0)) return outlet;
  const fill = createFiller(fillS);
  return { block: (block) => outlet.block(fill(block)), faults: (reports) => outlet.faults(reports) };
}
