/** Cutting recordings into parts that can be read side by side. */

import { closeSync, openSync, readSync } from 'node:fs';
import { withDatabase } from './duckdb.js';
import { cutParquet } from './plan-parquet.js';
import { createReadState } from './read-state.js';
import type { ParquetPart } from './recording.js';

const parquetMark = 'PAR1';

/**
 * Parts with about so many rows each, as `ReadOptions.part`; read in turn they give the same as the whole.
 *
 * Missing: null for anything but one plain Parquet file with machine after machine; also for a damaged one, whose reading
 * tells more.
 */
export async function partsOf(
  paths: readonly string[],
  options: { readonly rowsEach: number },
): Promise<ParquetPart[] | null> {
  const [path] = paths;
  if (path === undefined || paths.length > 1 || path === '-') return null;
  try {
    if (!isParquet(path)) return null;
    const state = createReadState({});
    return await withDatabase({ threads: 1 }, ({ connection }) =>
      cutParquet(connection, { path, name: path, origin: path }, { state, rowsEach: options.rowsEach }),
    );
  } catch {
    return null;
  }
}

function isParquet(path: string): boolean {
  const file = openSync(path, 'r');
  try {
    const start = Buffer.alloc(parquetMark.length);
    readSync(file, start, 0, start.length, 0);
    return start.toString('latin1') === parquetMark;
  } finally {
    closeSync(file);
  }
}
