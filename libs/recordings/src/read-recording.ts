/** Reads one opened recording into the shelves, whatever its format. */

import { createWriteStream } from 'node:fs';
import { join } from 'node:path';
import { Readable } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import type { ByteSource } from './byte-source.js';
import { type CanTargets, readCan } from './read-can.js';
import { readCsv } from './read-csv.js';
import { readNdjson } from './read-ndjson.js';
import { readParquet } from './read-parquet.js';
import type { ReadState } from './read-state.js';
import { withTempFolder } from './temp-folder.js';

/**
 * Reads one recording to its end.
 *
 * Errors: those of the formats; whatever was read before one has reached the shelves.
 */
export async function readRecording(source: ByteSource, state: ReadState, targets: CanTargets): Promise<void> {
  state.formats.add(source.format);
  switch (source.format) {
    case 'csv':
      return readCsv(source, state, targets.shelves);
    case 'ndjson':
      return readNdjson(source, state, targets.shelves);
    case 'candump':
    case 'can-csv':
      return readCan(source, state, targets);
    case 'parquet':
      return source.isPlainFile
        ? readParquet(source, state, targets.shelves)
        : readSpooledParquet(source, state, targets);
  }
}

/** Parquet needs random access, so what comes compressed or through a pipe is laid down first. */
async function readSpooledParquet(source: ByteSource, state: ReadState, targets: CanTargets): Promise<void> {
  await withTempFolder(async (folder) => {
    const path = join(folder, 'spooled.parquet');
    await pipeline(Readable.from(source.chunks), createWriteStream(path));
    await readParquet({ path, name: source.name, origin: source.origin }, state, targets.shelves);
  });
}
