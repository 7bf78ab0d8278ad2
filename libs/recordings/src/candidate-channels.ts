/** Tells which channels recordings can hold at most, so that a sorting table needs no column for the others. */

import { type ChannelName, channelNames } from '@warmbrick/signals';
import { type ByteSource, openSource } from './byte-source.js';
import { findSeparator } from './detect-format.js';
import { withDatabase } from './duckdb.js';
import { describeParquet } from './plan-parquet.js';
import { readLines } from './read-lines.js';
import { wantedChannels } from './read-state.js';
import type { NamedPath } from './read-unordered.js';
import type { ReadOptions } from './recording.js';
import { splitCells } from './split-cells.js';

/**
 * The channels that are asked for and that the columns of any file name, in catalogue order.
 *
 * Missing: a file whose columns are not known beforehand (NDJSON, CAN, compressed Parquet) may hold every channel.
 */
export async function candidateChannels(
  files: readonly NamedPath[],
  options: ReadOptions,
): Promise<readonly ChannelName[]> {
  const named = new Set<string>();
  for (const { path, origin } of files) {
    const source = await openSource(path, origin);
    try {
      for (const name of await columnsOf(source)) named.add(name);
    } finally {
      await source.close();
    }
  }
  return wantedChannels(options).filter((name) => named.has(name));
}

async function columnsOf(source: ByteSource): Promise<readonly string[]> {
  if (source.format === 'csv') return headerOf(source);
  if (source.format !== 'parquet' || !source.isPlainFile) return channelNames;
  const described = await withDatabase({ threads: 1 }, ({ connection }) =>
    // A damaged file is reported when it is read.
    describeParquet(connection, source.path).catch(() => []),
  );
  return described.map((column) => column.name);
}

async function headerOf(source: ByteSource): Promise<readonly string[]> {
  for await (const { lines } of readLines(source.chunks)) {
    const header = lines.find((line) => line === null || line.trim() !== '');
    if (header === null) return channelNames;
    if (header === undefined) continue;
    const separator = findSeparator(header) ?? ',';
    return (splitCells(header, separator) ?? header.split(separator)).map((name) => name.trim());
  }
  return [];
}
