/** Collects samples into the chunks that DuckDB's appender takes. */

import { DOUBLE, type DuckDBAppender, DuckDBDataChunk, FLOAT, INTEGER } from '@duckdb/node-api';
import { type ChannelName, type Column, createColumn, isWideChannel, type SampleBlock } from '@warmbrick/signals';

import { temporaryDatabaseFailed } from './recording-errors.js';

export interface SampleStage {
  add(machineCode: number, block: SampleBlock): void;
  flush(): void;
  /** The channels that occurred. */
  seen(): ChannelName[];
  /** Rows taken so far. */
  rows(): number;
}

/** Rows of a chunk of DuckDB. */
const chunkRows = 2048;

/** Columns of the table that a stage fills, as SQL. */
export function sampleColumnsSql(channels: readonly ChannelName[]): string {
  const values = channels.map((name) => `${name} ${isWideChannel(name) ? 'DOUBLE' : 'FLOAT'}`);
  return ['machine INTEGER', 'timeMs DOUBLE', ...values].join(', ');
}

/** Creates the stage of a table of these channels; others of a block are left out. */
export function createStage(appender: DuckDBAppender, channels: readonly ChannelName[]): SampleStage {
  const columnTypes = [INTEGER, DOUBLE, ...channels.map((name) => (isWideChannel(name) ? DOUBLE : FLOAT))];
  const machines = new Int32Array(chunkRows);
  const timeMs = new Float64Array(chunkRows);
  const columns = channels.map((name) => createColumn(name, chunkRows));
  const isSeen = channels.map(() => false);
  let length = 0;
  let rows = 0;

  const flush = (): void => {
    if (length === 0) return;
    const chunk = DuckDBDataChunk.create(columnTypes, length);
    [machines, timeMs, ...columns].forEach((values, i) => {
      writeVector(chunk, i, values.subarray(0, length));
    });
    try {
      appender.appendDataChunk(chunk);
    } catch (error) {
      throw temporaryDatabaseFailed(error);
    }
    length = 0;
  };

  return {
    add(machineCode, block) {
      rows += block.timeMs.length;
      for (let from = 0; from < block.timeMs.length; ) {
        const to = Math.min(block.timeMs.length, from + chunkRows - length);
        machines.fill(machineCode, length, length + to - from);
        timeMs.set(block.timeMs.subarray(from, to), length);
        for (let c = 0; c < columns.length; c++) {
          const values = block.channels[channels[c] as ChannelName];
          const column = columns[c] as Column;
          if (values !== undefined) {
            isSeen[c] = true;
            column.set(values.subarray(from, to), length);
          } else if (isSeen[c]) {
            column.fill(Number.NaN, length, length + to - from);
          }
        }
        length += to - from;
        from = to;
        if (length === chunkRows) flush();
      }
    },
    flush,
    rows: () => rows,
    seen: () => channels.filter((_, c) => isSeen[c]),
  };
}

/** Writes a column of numbers into a chunk, without a call a value. */
function writeVector(chunk: DuckDBDataChunk, column: number, values: Int32Array | Column): void {
  const vector = chunk.getColumnVector(column) as unknown as {
    readonly items: { set(values: ArrayLike<number>): void };
    flush(): void;
  };
  vector.items.set(values);
  vector.flush();
}
