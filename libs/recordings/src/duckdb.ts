/** A DuckDB of our own for the time of one job. */

import { type DuckDBConnection, type DuckDBDataChunk, DuckDBInstance } from '@duckdb/node-api';
import { temporaryDatabaseFailed } from './recording-errors.js';

/** Memory that DuckDB may use before it spills to disk. Source: design decision. */
const memoryLimit = '1GB';

export interface DatabaseOptions {
  readonly threads: number;
  /** Folder for the database file and for spilling; without one the database lives in memory and spills nowhere. */
  readonly folder?: string;
}

export interface Database {
  readonly connection: DuckDBConnection;
  /** One more connection, closed with the database. */
  connect(): Promise<DuckDBConnection>;
  close(): void;
}

/** Opens a fresh database that reaches nothing but local files. */
export async function openDatabase(options: DatabaseOptions): Promise<Database> {
  const { threads, folder } = options;
  const path = folder === undefined ? ':memory:' : `${folder}/sorting.duckdb`;
  const instance = await DuckDBInstance.create(path, {
    threads: String(threads),
    memory_limit: memoryLimit,
    autoinstall_known_extensions: 'false',
    ...(folder === undefined ? {} : { temp_directory: `${folder}/spill` }),
  });
  const opened: DuckDBConnection[] = [];
  const connect = async (): Promise<DuckDBConnection> => {
    const connection = await instance.connect();
    opened.push(connection);
    return connection;
  };
  const close = (): void => {
    for (const connection of opened) connection.closeSync();
    instance.closeSync();
  };
  return { connection: await connect(), connect, close };
}

/** Runs `work` with a fresh database and closes it afterwards, also when `work` fails. */
export async function withDatabase<Result>(
  options: DatabaseOptions,
  work: (database: Database) => Promise<Result>,
): Promise<Result> {
  const database = await openDatabase(options);
  try {
    return await work(database);
  } finally {
    database.close();
  }
}

/**
 * The chunks of a statement as they are made; the next one is decoded while one is taken in.
 *
 * A stream of DuckDB that fails in the middle ends without saying so, so whoever reads it has to know how many rows to
 * expect; here a number that is not met is an error, and null leaves the count to the caller.
 * Errors: `temporary-database-failed`; DuckDB's own.
 */
export async function* streamChunks(
  connection: DuckDBConnection,
  sql: string,
  expectedRows: number | null,
): AsyncGenerator<DuckDBDataChunk> {
  const result = await connection.stream(sql);
  let rows = 0;
  let chunk = await result.fetchChunk();
  while (chunk !== null && chunk.rowCount > 0) {
    const next = result.fetchChunk();
    rows += chunk.rowCount;
    try {
      yield chunk;
    } finally {
      // Nothing may still be running on the connection when it is closed.
      await next.catch(() => null);
    }
    chunk = await next;
  }
  if (expectedRows !== null && rows !== expectedRows) {
    throw temporaryDatabaseFailed(new Error(`it gave ${rows} of ${expectedRows} rows`));
  }
}

/** A text as a literal of SQL. */
export function sqlText(text: string): string {
  return `'${text.replaceAll("'", "''")}'`;
}

/** A name as an identifier of SQL. */
export function sqlName(name: string): string {
  return `"${name.replaceAll('"', '""')}"`;
}
