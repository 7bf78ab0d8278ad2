/** Writes blocks as recordings in the formats that the replay reads. */

import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { gzipSync } from 'node:zlib';
import { DuckDBInstance } from '@duckdb/node-api';
import { blockChannels, type ChannelName, type SampleBlock } from '@warmbrick/signals';

export interface WriteOptions {
  /** How the times are written; default RFC 3339 in UTC. */
  readonly time?: (timeMs: number) => string;
  /** What stands where there is no value; default a blank cell or a missing key. */
  readonly noValue?: Readonly<Partial<Record<ChannelName, number>>>;
}

/** Writes a file whose format is told by its name: `.parquet`, or `.csv` or `.ndjson` with `.gz` behind it or not. */
export async function writeRecording(
  path: string,
  blocks: readonly SampleBlock[],
  options: WriteOptions = {},
): Promise<void> {
  if (path.endsWith('.parquet')) return writeParquet(path, toCsv(blocks, options));
  const text = path.replace(/\.gz$/, '').endsWith('.csv') ? toCsv(blocks, options) : toNdjson(blocks, options);
  writeFileSync(path, path.endsWith('.gz') ? gzipSync(text, { level: 9 }) : text);
}

/** Times become timestamps, values 64-bit floats. */
async function writeParquet(path: string, csv: string): Promise<void> {
  const folder = mkdtempSync(join(tmpdir(), 'warmbrick-case-'));
  const csvPath = join(folder, 'recording.csv');
  writeFileSync(csvPath, csv);
  const instance = await DuckDBInstance.create(':memory:', { threads: '1' });
  const connection = await instance.connect();
  const quoted = (text: string): string => `'${text.replaceAll("'", "''")}'`;
  const rows = `SELECT * REPLACE (CAST("time" AS TIMESTAMP) AS "time") FROM read_csv(${quoted(csvPath)}, all_varchar = true)`;
  const columns = csv.slice(0, csv.indexOf('\n')).split(',').slice(2);
  const typed = columns.map((name) => `CAST("${name}" AS DOUBLE) AS "${name}"`).join(', ');
  await connection.run(
    `COPY (SELECT "machineId", "time", ${typed} FROM (${rows})) TO ${quoted(path)} (FORMAT parquet, COMPRESSION zstd)`,
  );
  connection.closeSync();
  instance.closeSync();
  rmSync(folder, { recursive: true });
}

function toCsv(blocks: readonly SampleBlock[], options: WriteOptions): string {
  const names = [...new Set(blocks.flatMap((block) => blockChannels(block)))];
  const lines = [['machineId', 'time', ...names].join(',')];
  for (const block of blocks) {
    for (let i = 0; i < block.timeMs.length; i++) {
      const cells = names.map((name) => cell(block, { name, i, options }) ?? '');
      lines.push([block.machineId, timeText(block, i, options), ...cells].join(','));
    }
  }
  return `${lines.join('\n')}\n`;
}

function toNdjson(blocks: readonly SampleBlock[], options: WriteOptions): string {
  const lines: string[] = [];
  for (const block of blocks) {
    const names = blockChannels(block);
    for (let i = 0; i < block.timeMs.length; i++) {
      const pairs = names.flatMap((name) => {
        const value = cell(block, { name, i, options });
        return value === null ? [] : [[name, value] as const];
      });
      const time = timeText(block, i, options);
      lines.push(JSON.stringify({ machineId: block.machineId, time, ...Object.fromEntries(pairs) }));
    }
  }
  return `${lines.join('\n')}\n`;
}

function timeText(block: SampleBlock, i: number, options: WriteOptions): string {
  const timeMs = block.timeMs[i] as number;
  return options.time?.(timeMs) ?? new Date(timeMs).toISOString().replace('.000Z', 'Z');
}

function cell(
  block: SampleBlock,
  at: { readonly name: ChannelName; readonly i: number; readonly options: WriteOptions },
): number | null {
  const value = block.channels[at.name]?.[at.i] as number;
  if (!Number.isNaN(value)) return Number(value.toFixed(6));
  return at.options.noValue?.[at.name] ?? null;
}
