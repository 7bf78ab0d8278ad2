/** Columns of a chunk of DuckDB as typed arrays. */

import type { DuckDBDataChunk } from '@duckdb/node-api';
import duckdb from '@duckdb/node-bindings';

/**
 * A column of FLOATs, without a copy.
 *
 * The array lies in the chunk's memory. Goes past the chunk's own `getColumnVector`, which asks for type and validity of
 * every vector: the statements here select known types and no nulls, and a sixth of the time of reading is saved.
 */
export function floatsOf(chunk: DuckDBDataChunk, column: number, rows: number): Float32Array {
  const bytes = bytesOf(chunk, column, rows * Float32Array.BYTES_PER_ELEMENT);
  return new Float32Array(bytes.buffer, bytes.byteOffset, rows);
}

/** A column of DOUBLEs, like `floatsOf`. */
export function doublesOf(chunk: DuckDBDataChunk, column: number, rows: number): Float64Array {
  const bytes = bytesOf(chunk, column, rows * Float64Array.BYTES_PER_ELEMENT);
  return new Float64Array(bytes.buffer, bytes.byteOffset, rows);
}

/** A column of INTEGERs, like `floatsOf`. */
export function integersOf(chunk: DuckDBDataChunk, column: number, rows: number): Int32Array {
  const bytes = bytesOf(chunk, column, rows * Int32Array.BYTES_PER_ELEMENT);
  return new Int32Array(bytes.buffer, bytes.byteOffset, rows);
}

function bytesOf(chunk: DuckDBDataChunk, column: number, bytes: number): Uint8Array {
  return duckdb.vector_get_data(duckdb.data_chunk_get_vector(chunk.chunk, column), bytes);
}
