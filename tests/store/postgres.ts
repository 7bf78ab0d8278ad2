/** A PostgreSQL server for a test file: a real embedded one in a temporary folder, or the one that is named. */

import { chmodSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { PostgreSqlContainer } from '@testcontainers/postgresql';
import { type AlertingConfig, openStore, type Store, startEmbeddedPostgres } from '@warmbrick/store';
import pg from 'pg';

export interface TestServer {
  /** Connection string of a new, empty database. */
  freshDatabase(): Promise<string>;
  /** A store on a database; closed by `stop`. */
  openOn(connectionString: string, options?: { outbox?: boolean; alerting?: AlertingConfig }): Promise<Store>;
  stop(): Promise<void>;
}

/**
 * Starts the server; call `stop` when done, or nothing is removed.
 *
 * `WARMBRICK_TEST_DATABASE_URL` names another server, whose user may create databases; `WARMBRICK_TEST_POSTGRES_IMAGE` names
 * an image, such as `postgres:18`, to start one in a container where a Docker engine answers.
 */
export async function startTestServer(): Promise<TestServer> {
  const image = process.env.WARMBRICK_TEST_POSTGRES_IMAGE;
  const container = image === undefined ? null : await new PostgreSqlContainer(image).start();
  const given = container?.getConnectionUri() ?? process.env.WARMBRICK_TEST_DATABASE_URL;
  const folder = given === undefined ? mkdtempSync(join(tmpdir(), 'warmbrick-test-')) : null;
  // Root's database runs as another user, who has to pass through.
  if (folder !== null) chmodSync(folder, 0o755);
  const server = folder === null ? null : await startEmbeddedPostgres({ dataDir: join(folder, 'data') });
  const base = given ?? (server?.connectionString as string);
  const stores: Store[] = [];
  const databases: string[] = [];

  async function freshDatabase(): Promise<string> {
    const name = `warmbrick_test_${process.pid}_${databases.length}`;
    await runSql(base, `CREATE DATABASE ${name}`);
    databases.push(name);
    return base.replace(/^(\w+:\/\/[^/]*)\/[^?]*/, `$1/${name}`);
  }

  return {
    freshDatabase,
    async openOn(connectionString, options = {}) {
      const store = await openStore({ connectionString, ...options });
      stores.push(store);
      return store;
    },
    async stop() {
      for (const store of stores) await store.close();
      if (server === null)
        for (const name of databases) await runSql(base, `DROP DATABASE IF EXISTS ${name} WITH (FORCE)`);
      await server?.stop();
      await container?.stop();
      if (folder !== null) rmSync(folder, { recursive: true, force: true });
    },
  };
}

/** Runs statements on a connection of their own and gives the rows of the last. */
export async function runSql(
  connectionString: string,
  text: string,
  values?: unknown[],
): Promise<Record<string, unknown>[]> {
  const client = new pg.Client({ connectionString });
  await client.connect();
  try {
    return (await client.query(text, values)).rows;
  } finally {
    await client.end();
  }
}
