/** Decides how a Parquet file is scanned: which columns, in which types, and how the machine of a row is told. */

import type { DuckDBConnection } from '@duckdb/node-api';
import { type ChannelName, channelNames, isWideChannel } from '@warmbrick/signals';
import { mapColumns } from './channel-table.js';
import { sqlName, sqlText } from './duckdb.js';
import { fallbackMachineId, type ReadState, toMachineId } from './read-state.js';

export interface ParquetFile {
  /** Where it lies. */
  readonly path: string;
  /** How messages call it. */
  readonly name: string;
  /** The path that was named; a machine may be called after it. */
  readonly origin: string;
}

/** One statement to stream, all of one machine or with a code for the machine of each row. */
export interface ParquetScan {
  readonly sql: string;
  /** The machine, or null when the first column of the result is a code into `machineIds`. */
  readonly machineId: string | null;
}

export interface ParquetPlan {
  readonly scans: readonly ParquetScan[];
  /** By code; null for a name that cannot be a machine id. */
  readonly machineIds: readonly (string | null)[];
  /** Catalogue index of each channel column, in the order of the result. */
  readonly channelIndexes: readonly number[];
  /** Whether times are text that has to be parsed row by row. */
  readonly hasTextTime: boolean;
  /** Counts the rows that all scans together have to give. */
  countRows(): Promise<number>;
}

export interface ParquetColumn {
  readonly name: string;
  readonly type: string;
}

/** Row groups read more than this often, on average, cost more than a code a row. Source: measured. */
const mostReads = 1.5;
/** Machines with a scan each at most; a scan costs about 2 ms to start. Source: measured. */
const mostScans = 256;
const machineType = 'machine_of_recording';

/** Expression for the path of the file inside SQL. */
function scanOf(path: string): string {
  return `read_parquet(${sqlText(path)})`;
}

/**
 * Plans the reading of one Parquet file.
 *
 * Errors: `recording-no-time`, `recording-no-channel`; DuckDB's own when the file is damaged.
 */
export async function planParquet(
  connection: DuckDBConnection,
  file: ParquetFile,
  state: ReadState,
): Promise<ParquetPlan> {
  const columns = await describeParquet(connection, file.path);
  const table = mapColumns(
    file.name,
    columns.map((column) => column.name),
    state,
  );
  const time = columns[table.timeAt] as ParquetColumn;
  const read = columns.flatMap((column, i) => ((table.channelIndexes[i] as number) < 0 ? [] : [column]));
  const select = [timeExpression(time), ...read.map(valueExpression)].join(', ');
  const from = scanOf(file.path);
  const base = {
    countRows: () => count(connection, from),
    channelIndexes: read.map((column) => channelNames.indexOf(column.name as ChannelName)),
    hasTextTime: time.type === 'VARCHAR',
  };
  const machine = columns[table.machineAt];
  if (machine === undefined) {
    const machineId = fallbackMachineId(file.origin, state.options);
    const { onlyMachineId } = state.options;
    const isWanted = onlyMachineId === undefined || onlyMachineId === machineId;
    const countRows = isWanted ? base.countRows : async () => 0;
    return {
      ...base,
      countRows,
      machineIds: [],
      scans: isWanted ? [{ sql: `SELECT ${select} FROM ${from}`, machineId }] : [],
    };
  }
  return { ...base, ...(await planMachines(connection, { from, select, path: file.path, machine }, state)) };
}

interface MachineQuestion {
  readonly from: string;
  readonly select: string;
  readonly path: string;
  readonly machine: ParquetColumn;
}

async function planMachines(
  connection: DuckDBConnection,
  question: MachineQuestion,
  state: ReadState,
): Promise<Pick<ParquetPlan, 'scans' | 'machineIds'> & Partial<Pick<ParquetPlan, 'countRows'>>> {
  const { from, select, machine } = question;
  const column = machine.type === 'VARCHAR' ? sqlName(machine.name) : `CAST(${sqlName(machine.name)} AS VARCHAR)`;
  await connection.run(`DROP TYPE IF EXISTS ${machineType}`);
  const found = await connection.runAndReadAll(`SELECT DISTINCT ${column} AS id FROM ${from} ORDER BY id`);
  const names = found.getRows().map(([name]) => name as string | null);
  const machineIds = names.flatMap((name) => (name === null ? [] : [toMachineId(name)]));
  const { onlyMachineId } = state.options;
  const scanEach = (kept: readonly string[]): ParquetScan[] =>
    kept.map((name) => ({
      sql: `SELECT ${select} FROM ${from}${names.length === 1 ? '' : ` WHERE ${column} = ${sqlText(name)}`}`,
      machineId: toMachineId(name) as string,
    }));

  const usable = names.filter((name): name is string => name !== null && toMachineId(name) !== null);
  if (onlyMachineId !== undefined) {
    const kept = usable.filter((name) => toMachineId(name) === onlyMachineId);
    const isKept = `${column} IN (${['NULL', ...kept.map(sqlText)].join(', ')})`;
    return { machineIds, scans: scanEach(kept), countRows: () => count(connection, `${from} WHERE ${isKept}`) };
  }
  const areAllDistinct = new Set(usable.map(toMachineId)).size === names.length;
  if (areAllDistinct && (await isSortedByMachine(connection, question, usable))) {
    return { machineIds, scans: scanEach(usable) };
  }
  const texts = names.filter((name): name is string => name !== null);
  await connection.run(`CREATE TYPE ${machineType} AS ENUM (${texts.map(sqlText).join(', ')})`);
  const code = `coalesce(CAST(enum_code(CAST(${column} AS ${machineType})) AS INTEGER), -1)`;
  return { machineIds, scans: [{ sql: `SELECT ${code}, ${select} FROM ${from}`, machineId: null }] };
}

/** Whether the row groups hold the machines one after another, so that a scan each reads little twice. */
async function isSortedByMachine(
  connection: DuckDBConnection,
  question: MachineQuestion,
  machines: readonly string[],
): Promise<boolean> {
  if (machines.length === 1) return true;
  if (machines.length > mostScans || question.machine.type !== 'VARCHAR') return false;
  const found = await connection.runAndReadAll(
    `WITH groups AS (
       SELECT stats_min_value AS low, stats_max_value AS high FROM parquet_metadata(${sqlText(question.path)})
       WHERE path_in_schema = ${sqlText(question.machine.name)}
     ), machines AS (SELECT unnest([${machines.map(sqlText).join(', ')}]) AS id)
     SELECT (SELECT count(*) FROM groups), (SELECT count(*) FROM groups WHERE low IS NULL OR high IS NULL),
       (SELECT count(*) FROM groups JOIN machines ON id BETWEEN low AND high)`,
  );
  const [groups, unknown, reads] = (found.getRows()[0] ?? []).map(Number);
  return unknown === 0 && (reads as number) <= (groups as number) * mostReads + machines.length;
}

async function count(connection: DuckDBConnection, from: string): Promise<number> {
  const result = await connection.runAndReadAll(`SELECT count(*) FROM ${from}`);
  return Number(result.getRows()[0]?.[0]);
}

/** Names and types of a file's columns. Errors: DuckDB's own. */
export async function describeParquet(connection: DuckDBConnection, path: string): Promise<ParquetColumn[]> {
  const result = await connection.runAndReadAll(`DESCRIBE SELECT * FROM ${scanOf(path)}`);
  return result.getRows().map(([name, type]) => ({ name: String(name), type: String(type) }));
}

/** Times as epoch ms, rounded down; NaN for none. */
function timeExpression(column: ParquetColumn): string {
  const name = sqlName(column.name);
  if (column.type === 'VARCHAR') return `coalesce(${name}, '')`;
  if (column.type.startsWith('TIMESTAMP')) return `coalesce(CAST(epoch_ms(${name}) AS DOUBLE), 'NaN'::DOUBLE)`;
  return `coalesce(floor(TRY_CAST(${name} AS DOUBLE)), 'NaN'::DOUBLE)`;
}

/** A channel in the width it is kept in; NaN for none, an infinity for what does not fit, which is implausible later. */
function valueExpression(column: ParquetColumn): string {
  const name = sqlName(column.name);
  const width = isWideChannel(column.name as ChannelName) ? 'DOUBLE' : 'FLOAT';
  if (column.type === width || (column.type === 'FLOAT' && width === 'DOUBLE')) {
    return `coalesce(CAST(${name} AS ${width}), 'NaN'::${width})`;
  }
  const wide = column.type === 'DOUBLE' ? name : `TRY_CAST(${name} AS DOUBLE)`;
  if (width === 'DOUBLE') return `coalesce(${wide}, 'NaN'::DOUBLE)`;
  return `coalesce(TRY_CAST(${wide} AS FLOAT), CASE WHEN ${name} IS NULL THEN 'NaN' ELSE 'Infinity' END::FLOAT)`;
}
