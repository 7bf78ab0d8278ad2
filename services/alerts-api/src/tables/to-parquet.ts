/** A table as a Parquet file; the only importer of its writer. */

import { type ColumnSource, parquetWriteBuffer } from 'hyparquet-writer';
import type { Table, TableColumn } from './table.js';

/** The file's bytes: times as timestamps, numbers as doubles, missing values as nulls. */
export function toParquet({ columns }: Table): Uint8Array {
  return new Uint8Array(parquetWriteBuffer({ columnData: columns.map(toColumn) }));
}

function toColumn({ name, kind, values }: TableColumn): ColumnSource {
  const given: unknown[] = Array.from(values as ArrayLike<unknown>);
  if (kind === 'time')
    return { name, type: 'TIMESTAMP', nullable: false, data: given.map((atMs) => new Date(atMs as number)) };
  const data = given.map((value) => (value === undefined || Number.isNaN(value) ? null : value));
  return { name, type: kind === 'number' ? 'DOUBLE' : 'STRING', nullable: true, data };
}
