/** Decides how a Parquet file is scanned: which columns, in which types, and how the machine of a row is told. */

import type { DuckDBConnection } from '@duckdb/node-api';
import { type ChannelName, channelNames, isWideChannel } from '@warmbrick/signals';
import { mapColumns } from './channel-table.js';
import { sqlName, sqlText } from './duckdb.js';
import { fallbackMachineId, type ReadState, toMachineId } from './read-state.js';
import type { MachineRows, ParquetPart } from './recording.js';

export interface ParquetFile {
  /** Where it lies. */
  readonly path: string;
  /** How messages call it. */
  readonly name: string;
  /** The path that was named; a machine may be called after it. */
  readonly origin: string;
}

/** One statement to stream. */
export interface ParquetScan {
  readonly sql: string;
  /** Whose rows the result holds, in its order; or null when the first column of the result is a code into `machineIds`. */
  readonly machines: readonly MachineRows[] | null;
  /** Row of the file that the result begins with, from nought; null when rows in between are left out. */
  readonly firstRow: number | null;
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

const machineType = 'machine_of_recording';

/** Expression for the path of the file inside SQL. */
function scanOf(path: string, options = ''): string {
  return `read_parquet(${sqlText(path)}${options})`;
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
      scans: isWanted
        ? [
            {
              sql: `SELECT ${select} FROM ${from}`,
              machines: [{ machineId, rows: Number.POSITIVE_INFINITY }],
              firstRow: 0,
            },
          ]
        : [],
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

/** Where the rows of a machine lie in the file. */
interface Location extends MachineRows {
  readonly name: string | null;
  readonly first: number;
  readonly last: number;
}

async function planMachines(
  connection: DuckDBConnection,
  question: MachineQuestion,
  state: ReadState,
): Promise<Pick<ParquetPlan, 'scans' | 'machineIds'> & Partial<Pick<ParquetPlan, 'countRows'>>> {
  const { from, select, machine, path } = question;
  const { part } = state.options;
  if (part !== undefined) {
    return { machineIds: [], scans: [partScan(question, part)], countRows: async () => part.rows };
  }
  const column = textOf(machine);
  await connection.run(`DROP TYPE IF EXISTS ${machineType}`);
  const locations = await locateMachines(connection, path, column);
  const { onlyMachineId } = state.options;
  const wanted = locations.filter(
    ({ machineId }) => machineId === null || onlyMachineId === undefined || machineId === onlyMachineId,
  );
  const countRows = async () => wanted.reduce((sum, { rows }) => sum + rows, 0);
  const isAll = wanted.length === locations.length;
  if (isInOrder(locations)) {
    const whole = { sql: `SELECT ${select} FROM ${from}`, machines: inOrder(wanted), firstRow: 0 };
    return { machineIds: [], scans: isAll ? [whole] : partScans(question, wanted), countRows };
  }
  const names = wanted.flatMap(({ name }) => (name === null ? [] : [name]));
  const texts = names.map(sqlText).join(', ');
  if (names.length > 0) await connection.run(`CREATE TYPE ${machineType} AS ENUM (${texts})`);
  const known = `CAST(enum_code(TRY_CAST(${column} AS ${machineType})) AS INTEGER)`;
  const code = names.length > 0 ? `coalesce(${known}, -1)` : 'CAST(-1 AS INTEGER)';
  const where = isAll ? '' : ` WHERE ${column} IS NULL OR ${column} IN (${['NULL', texts].filter(Boolean).join(', ')})`;
  const scan = { sql: `SELECT ${code}, ${select} FROM ${from}${where}`, machines: null, firstRow: isAll ? 0 : null };
  return { machineIds: names.map(toMachineId), scans: [scan], countRows };
}

/** The machines of a file by name, with the rows that each has. */
async function locateMachines(connection: DuckDBConnection, path: string, column: string): Promise<Location[]> {
  const found = await connection.runAndReadAll(
    `SELECT ${column} AS id, count(*), min(file_row_number), max(file_row_number)
     FROM ${scanOf(path, ', file_row_number = true')} GROUP BY id ORDER BY id`,
  );
  return found.getRows().map(([id, rows, first, last]) => {
    const name = id as string | null;
    const machineId = name === null ? null : toMachineId(name);
    return { name, machineId, rows: Number(rows), first: Number(first), last: Number(last) };
  });
}

function inOrder(locations: readonly Location[]): Location[] {
  return [...locations].sort((a, b) => a.first - b.first);
}

/** Of machines that lie one after the other a scan for each stretch of rows that are wanted. */
function partScans(question: MachineQuestion, wanted: readonly Location[]): ParquetScan[] {
  const stretches: Location[][] = [];
  for (const location of inOrder(wanted)) {
    const before = stretches.at(-1);
    if (before?.at(-1)?.last === location.first - 1) before.push(location);
    else stretches.push([location]);
  }
  return stretches.map((machines) => partScan(question, partOf(machines)));
}

function partScan({ select, path }: MachineQuestion, { firstRow, rows, machines }: ParquetPart): ParquetScan {
  const numbered = scanOf(path, ', file_row_number = true');
  const where = `file_row_number BETWEEN ${firstRow} AND ${firstRow + rows - 1}`;
  return { sql: `SELECT ${select} FROM ${numbered} WHERE ${where}`, machines, firstRow };
}

/** Machines that lie one after the other, as a part. */
function partOf(locations: readonly Location[]): ParquetPart {
  const machines = locations.map(({ machineId, rows }) => ({ machineId, rows }));
  return { firstRow: locations[0]?.first ?? 0, rows: machines.reduce((sum, { rows }) => sum + rows, 0), machines };
}

/** The machine column as text. */
function textOf(machine: ParquetColumn): string {
  return machine.type === 'VARCHAR' ? sqlName(machine.name) : `CAST(${sqlName(machine.name)} AS VARCHAR)`;
}

function isInOrder(locations: readonly Location[]): boolean {
  return locations.every(({ first, last, rows }) => last - first + 1 === rows);
}

/**
 * Cuts a file into parts of whole machines with about so many rows, to be read side by side.
 *
 * Missing: null when it names no machine, has a row without one, or has the rows of machines mixed.
 * Errors: as `planParquet`.
 */
export async function cutParquet(
  connection: DuckDBConnection,
  file: ParquetFile,
  cut: { readonly state: ReadState; readonly rowsEach: number },
): Promise<ParquetPart[] | null> {
  const columns = await describeParquet(connection, file.path);
  const names = columns.map((column) => column.name);
  const machine = columns[mapColumns(file.name, names, cut.state).machineAt];
  if (machine === undefined) return null;
  const locations = inOrder(await locateMachines(connection, file.path, textOf(machine)));
  const ids = new Set(locations.map(({ machineId }) => machineId));
  if (ids.has(null) || ids.size < locations.length || !isInOrder(locations)) return null;
  const parts: Location[][] = [];
  let rows = Number.POSITIVE_INFINITY;
  for (const location of locations) {
    if (rows >= cut.rowsEach) {
      parts.push([]);
      rows = 0;
    }
    parts.at(-1)?.push(location);
    rows += location.rows;
  }
  return parts.map(partOf);
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
