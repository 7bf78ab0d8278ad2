/** Writes samples of named channels as a recording. */

import { type ChannelName, channelNames, isWideChannel, type SampleBlock } from '@warmbrick/signals';
import { doublesOf, floatsOf, integersOf } from './chunk-columns.js';
import { sqlText, streamChunks } from './duckdb.js';
import { createStage, sampleColumnsSql } from './sample-stage.js';
import { openSpool, type TableSpool } from './table-spool.js';
import { openTextOutput } from './text-output.js';
import { csvHeader, csvRows, ndjsonRows } from './write-text.js';

export type WriteFormat = 'csv' | 'ndjson' | 'parquet';

export interface WriteOptions {
  /** Columns of a CSV, so that rows are written as they come; default: those that occur, known only at the end. */
  readonly channels?: readonly ChannelName[];
}

export interface RecordingWriter {
  /** Takes a block; its arrays may be reused afterwards. Can stand as the `block` of a sink. */
  block(block: SampleBlock): void;
  /** Finishes the recording and gives the number of samples in it. */
  close(): Promise<number>;
}

/**
 * Opens a recording for writing: a row a sample, `machineId`, `time`, and the channels that occur, in catalogue order.
 *
 * Units: times in UTC; RFC 3339 with milliseconds as text, TIMESTAMP of milliseconds in Parquet.
 * Missing: a blank in CSV, no key in NDJSON, NULL in Parquet.
 * Errors: `output-unwritable`.
 */
export async function openWriter(
  format: WriteFormat,
  path: string,
  options: WriteOptions = {},
): Promise<RecordingWriter> {
  if (format === 'ndjson') return openLineWriter(path, '', ndjsonRows);
  const { channels } = options;
  if (format === 'csv' && channels !== undefined) {
    return openLineWriter(path, csvHeader(channels), (block) => csvRows(block, channels));
  }
  return openSpoolingWriter(format, path);
}

function openLineWriter(path: string, header: string, toText: (block: SampleBlock) => string): RecordingWriter {
  const output = openTextOutput(path);
  let samples = 0;
  output.write(header);
  return {
    block(block) {
      output.write(toText(block));
      samples += block.timeMs.length;
    },
    async close() {
      output.close();
      return samples;
    },
  };
}

async function openSpoolingWriter(format: 'csv' | 'parquet', path: string): Promise<RecordingWriter> {
  const spool = await openSpool(path);
  const { connection } = spool.database;
  await connection.run(`CREATE TABLE samples (${sampleColumnsSql(channelNames)})`);
  const appender = await connection.createAppender('samples');
  const stage = createStage(appender, channelNames);
  const codes = new Map<string, number>();
  let samples = 0;
  return {
    block(block) {
      const code = codes.get(block.machineId) ?? codes.size;
      codes.set(block.machineId, code);
      stage.add(code, block);
      samples += block.timeMs.length;
    },
    async close() {
      try {
        stage.flush();
        appender.closeSync();
        const channels = stage.seen();
        const table = { machineIds: [...codes.keys()], channels, rows: samples };
        await (format === 'parquet' ? writeParquet(spool, table) : writeCsv(spool, path, table));
      } finally {
        await spool.close();
      }
      return samples;
    },
  };
}

interface WrittenTable {
  readonly machineIds: readonly string[];
  readonly channels: readonly ChannelName[];
  readonly rows: number;
}

async function writeParquet(spool: TableSpool, table: WrittenTable): Promise<void> {
  const names = `[${table.machineIds.map(sqlText).join(', ')}]::VARCHAR[]`;
  const columns = [
    `list_extract(${names}, machine + 1) AS "machineId"`,
    'CAST(epoch_ms(CAST(timeMs AS BIGINT)) AS TIMESTAMP_MS) AS "time"',
    ...table.channels.map((name) => `nullif(${name}, 'NaN') AS "${name}"`),
  ];
  await spool.writeParquet(`SELECT ${columns.join(', ')} FROM samples`);
}

/** The spool keeps the order of arrival, so the rows come back as they were given. */
async function writeCsv(spool: TableSpool, path: string, table: WrittenTable): Promise<void> {
  const { machineIds, channels } = table;
  const output = openTextOutput(path);
  output.write(csvHeader(channels));
  const sql = `SELECT ${['machine', 'timeMs', ...channels].join(', ')} FROM samples`;
  for await (const chunk of streamChunks(spool.database.connection, sql, table.rows)) {
    const rows = chunk.rowCount;
    const machines = integersOf(chunk, 0, rows);
    const timeMs = doublesOf(chunk, 1, rows);
    const columns = channels.map((name, i) => {
      const column = isWideChannel(name) ? doublesOf(chunk, 2 + i, rows) : floatsOf(chunk, 2 + i, rows);
      return [name, column] as const;
    });
    for (let from = 0; from < rows; ) {
      let to = from + 1;
      while (to < rows && machines[to] === machines[from]) to++;
      const machineId = machineIds[machines[from] as number] as string;
      const cut = columns.map(([name, column]) => [name, column.subarray(from, to)] as const);
      const block = { machineId, timeMs: timeMs.subarray(from, to), channels: Object.fromEntries(cut) };
      output.write(csvRows(block, channels));
      from = to;
    }
  }
  output.close();
}
