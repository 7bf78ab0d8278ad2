/** Parquet of named channels -> samples, chunk by chunk without work per row. */

import type { DuckDBConnection, DuckDBDataChunk } from '@duckdb/node-api';
import { OperatingError } from '@warmbrick/runtime';
import { type ChannelName, type Column, channelNames, isWideChannel } from '@warmbrick/signals';
import { doublesOf, floatsOf, integersOf } from './chunk-columns.js';
import { streamChunks, withDatabase } from './duckdb.js';
import { isUsableTime, parseTime } from './parse-time.js';
import { type ParquetFile, type ParquetPlan, type ParquetScan, planParquet } from './plan-parquet.js';
import { machineDetail, timeDetail } from './read-csv.js';
import type { ReadState } from './read-state.js';
import type { MachineRows } from './recording.js';
import { damagedRecording } from './recording-errors.js';
import { type SampleShelves, setValue } from './sample-shelves.js';

/**
 * Reads a Parquet file; the samples of each machine come in the order of the file.
 *
 * Errors: `recording-damaged`, `recording-no-time`, `recording-no-channel`; a row without a usable time or machine is a
 * counted reject.
 */
export async function readParquet(file: ParquetFile, state: ReadState, shelves: SampleShelves): Promise<void> {
  await withDatabase({ threads: state.options.threads ?? 1 }, async ({ connection }) => {
    const plan = await guarded(file, () => planParquet(connection, file, state));
    let rows = 0;
    for (const scan of plan.scans) rows += await runScan(connection, { file, plan, scan }, { state, shelves });
    const expected = await guarded(file, plan.countRows);
    if (rows !== expected) throw damagedParquet(file, new Error(`the file gave ${rows} of ${expected} rows`));
  });
}

interface ScanJob {
  readonly file: ParquetFile;
  readonly plan: ParquetPlan;
  readonly scan: ParquetScan;
}

interface Targets {
  readonly state: ReadState;
  readonly shelves: SampleShelves;
}

async function runScan(connection: DuckDBConnection, job: ScanJob, targets: Targets): Promise<number> {
  const to = { ...job, ...targets };
  const chunks = streamChunks(connection, job.scan.sql, null);
  let rows = 0;
  try {
    for (;;) {
      const next = await guarded(job.file, () => chunks.next());
      if (next.done === true) return rows;
      const count = next.value.rowCount;
      takeChunk(next.value, { before: rows, count }, to);
      rows += count;
    }
  } finally {
    await chunks.return(undefined);
  }
}

/** Turns what DuckDB throws into a message about the file; our own errors pass. */
async function guarded<Result>(file: ParquetFile, work: () => Promise<Result>): Promise<Result> {
  try {
    return await work();
  } catch (error) {
    throw error instanceof OperatingError ? error : damagedParquet(file, error);
  }
}

function damagedParquet(file: ParquetFile, cause: unknown): OperatingError {
  return damagedRecording(file.name, 'The Parquet file is cut short or damaged.', cause);
}

interface Rows {
  readonly timeMs: Float64Array;
  readonly columns: readonly Column[];
  readonly firstRow: number;
}

/** Rows of a scan: so many after so many that came before. */
interface ChunkRows {
  readonly before: number;
  readonly count: number;
}

function takeChunk(chunk: DuckDBDataChunk, { before, count }: ChunkRows, to: ScanJob & Targets): void {
  const { plan, scan } = to;
  const timeAt = scan.machines === null ? 1 : 0;
  const timeMs = plan.hasTextTime ? parsedTimes(chunk, timeAt) : doublesOf(chunk, timeAt, count);
  const columns = plan.channelIndexes.map((index, i) => {
    const isWide = isWideChannel(channelNames[index] as ChannelName);
    return isWide ? doublesOf(chunk, timeAt + 1 + i, count) : floatsOf(chunk, timeAt + 1 + i, count);
  });
  const rows = { timeMs, columns, firstRow: before + 1 };
  if (scan.machines !== null) {
    for (const stretch of stretchesOf(scan.machines, { before, count })) takeStretch(rows, stretch, to);
    return;
  }
  const codes = integersOf(chunk, 0, count);
  let from = 0;
  while (from < codes.length) {
    const code = codes[from] as number;
    let end = from + 1;
    while (end < codes.length && codes[end] === code) end++;
    takeStretch(rows, { from, to: end, machineId: plan.machineIds[code] ?? null }, to);
    from = end;
  }
}

/** The machines that rows of a scan belong to. */
function stretchesOf(machines: readonly MachineRows[], { before, count }: ChunkRows): Stretch[] {
  const stretches: Stretch[] = [];
  let endRow = 0;
  for (const { machineId, rows } of machines) {
    const from = Math.max(0, endRow - before);
    endRow += rows;
    const to = Math.min(count, endRow - before);
    if (to > from) stretches.push({ from, to, machineId });
    if (to === count) break;
  }
  return stretches;
}

interface Stretch {
  readonly from: number;
  readonly to: number;
  readonly machineId: string | null;
}

/** Takes rows of one machine: as a whole where times rise and are usable, else one by one. */
function takeStretch(rows: Rows, stretch: Stretch, to: ScanJob & Targets): void {
  const { from, to: end, machineId } = stretch;
  const { state, shelves, plan } = to;
  const isUsable = shelves.takesDisorder ? areUsable : isClean;
  if (machineId !== null && isUsable(rows.timeMs, from, end)) {
    const { timeMs, columns } = rows;
    shelves.append(machineId, { timeMs, columns, channelIndexes: plan.channelIndexes, from, to: end });
    return;
  }
  for (let row = from; row < end; row++) {
    const timeMs = rows.timeMs[row] as number;
    if (machineId === null) {
      state.rejects.add('bad-machine', placeOf(row, rows, to), machineDetail(''));
    } else if (isUsableTime(timeMs)) {
      const shelf = shelves.begin(machineId, timeMs);
      for (let c = 0; c < rows.columns.length; c++) {
        setValue(shelf, plan.channelIndexes[c] as number, (rows.columns[c] as Column)[row] as number, state);
      }
    } else {
      state.rejects.add('bad-time', placeOf(row, rows, to), timeDetail(Number.isNaN(timeMs) ? '' : String(timeMs)));
    }
  }
}

function placeOf(row: number, rows: Rows, { file, scan }: ScanJob): string {
  const place = (scan.firstRow ?? 0) + rows.firstRow + row;
  return `${file.name}, row ${place}${scan.firstRow === null ? ' of those asked for' : ''}`;
}

function areUsable(timeMs: Float64Array, from: number, to: number): boolean {
  for (let i = from; i < to; i++) if (!isUsableTime(timeMs[i] as number)) return false;
  return true;
}

function isClean(timeMs: Float64Array, from: number, to: number): boolean {
  let last = timeMs[from] as number;
  if (!isUsableTime(last) || !isUsableTime(timeMs[to - 1] as number)) return false;
  for (let i = from + 1; i < to; i++) {
    const time = timeMs[i] as number;
    if (!(time > last)) return false;
    last = time;
  }
  return true;
}

function parsedTimes(chunk: DuckDBDataChunk, column: number): Float64Array {
  const vector = chunk.getColumnVector(column);
  const timeMs = new Float64Array(chunk.rowCount);
  for (let i = 0; i < timeMs.length; i++) timeMs[i] = parseTime(String(vector.getItem(i)).trim());
  return timeMs;
}
