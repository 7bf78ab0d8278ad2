/** Connections, and transactions that end in every case. */

import { Pool, type PoolClient, type PoolConfig, type QueryResultRow, types } from 'pg';
import { toStoreError } from './store-errors.js';

/** Session limits in ms. Source: the project's own measurement: a frozen owner must not hold up the next one for ever. */
const idleInTransactionMs = 5_000;
const lockTimeoutMs = 15_000;
const statementTimeoutMs = 30_000;
const connectTimeoutMs = 5_000;
/** Connections of one process. Source: engineering judgement; an embedded server takes 50 in all. */
const maxConnections = 10;

export type Row = QueryResultRow;

interface Statement {
  /** Name of a prepared statement; the same text each time. */
  readonly name?: string;
  readonly text: string;
  readonly values?: readonly unknown[];
}

export interface Session {
  query(statement: Statement): Promise<{ rows: Row[]; rowCount: number }>;
}

export interface Database extends Session {
  /** Runs a body in one transaction: commits when it resolves, else rolls back. */
  inTransaction<T>(body: (session: Session) => Promise<T>): Promise<T>;
  close(): Promise<void>;
}

/** Whole 64-bit numbers as numbers: all of ours are epoch milliseconds or offsets, far below 2^53. */
function parseValue(oid: number, format?: 'text' | 'binary'): (value: never) => unknown {
  return oid === types.builtins.INT8 ? Number : types.getTypeParser(oid, format as 'text');
}

/** A pool with our session limits. Connects when first used. */
export function openDatabase(config: PoolConfig): Database {
  const pool = new Pool({
    application_name: 'warmbrick',
    max: maxConnections,
    connectionTimeoutMillis: connectTimeoutMs,
    idle_in_transaction_session_timeout: idleInTransactionMs,
    lock_timeout: lockTimeoutMs,
    statement_timeout: statementTimeoutMs,
    keepAlive: true,
    types: { getTypeParser: parseValue as never },
    ...config,
  });
  // A connection that breaks is told to whoever uses it; without listeners the driver would end the process.
  pool.on('error', () => {});
  pool.on('connect', (client) => client.on('error', () => {}));

  return {
    query: (statement) => mapped(() => run(pool, statement)),
    inTransaction: (body) => mapped(() => inTransaction(pool, body)),
    close: () => pool.end(),
  };
}

async function inTransaction<T>(pool: Pool, body: (session: Session) => Promise<T>): Promise<T> {
  const client = await pool.connect();
  let broken: Error | undefined;
  try {
    await client.query('BEGIN');
    const result = await body({ query: (statement) => run(client, statement) });
    await client.query('COMMIT');
    return result;
  } catch (error) {
    broken = await rollBack(client);
    throw error;
  } finally {
    client.release(broken);
  }
}

/** Gives the error when not even that worked; such a connection is thrown away. */
async function rollBack(client: PoolClient): Promise<Error | undefined> {
  try {
    await client.query('ROLLBACK');
    return undefined;
  } catch (error) {
    return error as Error;
  }
}

async function run(target: Pool | PoolClient, { name, text, values }: Statement) {
  const result = await target.query<Row>({
    text,
    values: values as unknown[],
    ...(name === undefined ? {} : { name }),
  });
  return { rows: result.rows, rowCount: result.rowCount ?? 0 };
}

async function mapped<T>(action: () => Promise<T>): Promise<T> {
  try {
    return await action();
  } catch (error) {
    throw toStoreError(error);
  }
}
