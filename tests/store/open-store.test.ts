import { openStore } from '@warmbrick/store';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { migrations } from '../../libs/store/src/postgres/migrations.js';
import { runSql, startTestServer, type TestServer } from './postgres.js';

let server: TestServer;

beforeAll(async () => {
  server = await startTestServer();
});
afterAll(() => server.stop());

describe('opening a store', () => {
  it('makes the tables once, also when several processes open it together', async () => {
    const url = await server.freshDatabase();
    const stores = await Promise.all(Array.from({ length: 6 }, () => server.openOn(url)));
    await Promise.all(stores.map((store) => store.ping()));
    const steps = await runSql(url, 'SELECT number, checksum FROM schema_step ORDER BY number');
    expect(steps.map((step) => step.number)).toEqual(migrations.map(({ number }) => number));
  });

  it('says so when the database is newer than the program', async () => {
    const url = await server.freshDatabase();
    await server.openOn(url);
    await runSql(url, "INSERT INTO schema_step SELECT max(number) + 1, 'of tomorrow', 'x' FROM schema_step");
    await expect(openStore({ connectionString: url })).rejects.toMatchObject({
      code: 'store-too-new',
      isRetriable: false,
    });
  });

  it('says so when a step is not the one that was applied', async () => {
    const url = await server.freshDatabase();
    await server.openOn(url);
    await runSql(url, "UPDATE schema_step SET checksum = 'x' WHERE number = 1");
    await expect(openStore({ connectionString: url })).rejects.toMatchObject({ code: 'store-step-changed' });
  });

  it('tells a server that is not there as a failure to try again', async () => {
    const absent = openStore({ host: '/tmp/no-such-folder', user: 'warmbrick', database: 'postgres' });
    await expect(absent).rejects.toMatchObject({ code: 'store-unavailable', isRetriable: true });
  });

  it('tells a database that does not exist as something to mend', async () => {
    const url = (await server.freshDatabase()).replace(/warmbrick_test_\w+/, 'no_such_database');
    await expect(openStore({ connectionString: url })).rejects.toMatchObject({
      code: 'store-refused',
      isRetriable: false,
    });
  });

  it('recovers by itself when the server breaks all its connections', async () => {
    const url = await server.freshDatabase();
    const store = await server.openOn(url);
    await runSql(
      url,
      'SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE pid <> pg_backend_pid() AND datname = current_database()',
    );
    await store
      .ping()
      .catch((error: unknown) => expect(error).toMatchObject({ code: 'store-unavailable', isRetriable: true }));
    await store.ping();
  });
});
