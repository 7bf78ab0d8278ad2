import { createHash } from 'node:crypto';
import { machineProfileSchema } from '@warmbrick/signals';
import type { Store } from '@warmbrick/store';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { methodsWithoutRule } from '../../libs/store/src/confine/confine-store.js';
import { openDatabase } from '../../libs/store/src/postgres/database.js';
import { raiseWalls } from '../../libs/store/src/postgres/fleet-wall.js';
import { withinFleets } from '../../libs/store/src/postgres/within-fleets.js';
import { changeOf, finding, secondsOf, seedMachine, workingRow } from '../alerts-api/fleet.js';
import { runSql, startTestServer, type TestServer } from './postgres.js';

const startMs = Date.UTC(2026, 2, 10, 6);
let server: TestServer;
let url: string;
let store: Store;
let north: Store;

beforeAll(async () => {
  server = await startTestServer();
  url = await server.freshDatabase();
  store = await server.openOn(url);
  for (const [machineId, fleet] of [
    ['n1', 'north'],
    ['s1', 'south'],
  ] as const) {
    await seedMachine(store, {
      machineId,
      fromMs: startMs,
      toMs: startMs + 3_600_000,
      rows: [workingRow(startMs)],
      findings: [finding(machineId, startMs)],
      samples: [secondsOf(machineId, startMs, 100)],
    });
    await store.moveMachine(machineId, fleet);
  }
  north = store.forFleets(['north']);
});
afterAll(() => server.stop());

/** Tables that hold nothing of any fleet. The API's role has no right to any of them. */
const fleetless = [
  'schema_step',
  'ingest_cursor',
  'reject',
  'repeatable_answer',
  'report_key',
  'threshold_set',
  'trial',
  'set_promotion',
];

describe('every table', () => {
  it('with a machine or a fleet in it stands behind a wall, and nothing else is open to the role', async () => {
    const tables = await runSql(
      url,
      `SELECT c.relname AS name, c.relrowsecurity AS walled,
        (SELECT count(*)::int FROM pg_policy p WHERE p.polrelid = c.oid) AS policies,
        has_table_privilege('warmbrick_api', c.oid, 'SELECT') AS readable,
        EXISTS (SELECT 1 FROM pg_attribute a WHERE a.attrelid = c.oid AND a.attname IN ('machine_id', 'fleet_id')
          AND NOT a.attisdropped) AS of_fleet
      FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace
      WHERE n.nspname = 'public' AND c.relkind IN ('r', 'p') AND NOT c.relispartition ORDER BY c.relname`,
    );
    expect(tables.length).toBeGreaterThan(15);
    for (const { name, walled, policies, readable, of_fleet } of tables) {
      if (of_fleet === true || readable === true)
        expect([name, walled, policies], String(name)).toEqual([name, true, 1]);
      else expect(fleetless, `${name} has no wall`).toContain(name);
    }
  });

  it('made later gets its wall when the store is opened again', async () => {
    const own = await server.freshDatabase();
    await server.openOn(own);
    await runSql(own, 'CREATE TABLE later_thing (machine_id text, note text)');
    await server.openOn(own);
    const [row] = await runSql(own, `SELECT relrowsecurity AS walled FROM pg_class WHERE relname = 'later_thing'`);
    expect(row?.walled).toBe(true);
  });

  it('a month of samples cannot be reached beside its parent', async () => {
    await expect(
      runSql(url, 'SET ROLE warmbrick_api; SET warmbrick.fleets = \'{"north"}\'; SELECT * FROM sample_chunk_2026_03'),
    ).rejects.toThrow(/permission denied/);
  });
});

describe('the second wall', () => {
  it('holds when a question forgets the fleet', async () => {
    const database = openDatabase({ connectionString: url });
    const walls = await database.inTransaction(raiseWalls);
    expect(walls.role).toBe('warmbrick_api');
    const confined = withinFleets(database, walls, ['north']);
    for (const table of ['machine', 'finding', 'residency_row', 'sample_chunk', 'analyzer_state']) {
      const all = await database.query({ text: `SELECT DISTINCT machine_id FROM ${table} ORDER BY 1` });
      expect(all.rows, table).toEqual([{ machine_id: 'n1' }, { machine_id: 's1' }]);
      const { rows } = await confined.query({ text: `SELECT DISTINCT machine_id FROM ${table}` });
      expect(rows, table).toEqual([{ machine_id: 'n1' }]);
      const touched = await confined.query({ text: `DELETE FROM ${table} WHERE machine_id = 's1'` });
      expect(touched.rowCount, table).toBe(0);
    }
    await expect(
      confined.query({ text: `UPDATE machine SET fleet_id = 'south' WHERE machine_id = 'n1'` }),
    ).rejects.toThrow(/refuses|row-level security/);
    await expect(confined.query({ text: 'SELECT * FROM reject' })).rejects.toThrow(/permission denied/);
    // The connection forgets role and fleets with the transaction.
    expect((await database.query({ text: 'SELECT count(*)::int AS n FROM machine' })).rows).toEqual([{ n: 2 }]);
    await database.close();
  });

  it('shows nothing to the role when nobody said which fleets', async () => {
    const database = openDatabase({ connectionString: url });
    const rows = await database.inTransaction(async (session) => {
      await session.query({ text: 'SET LOCAL ROLE warmbrick_api' });
      return (await session.query({ text: 'SELECT machine_id FROM machine' })).rows;
    });
    await database.close();
    expect(rows).toEqual([]);
    expect(() => withinFleets(undefined as never, { role: null }, ["x'; DROP TABLE machine; --"])).toThrow(
      /no id of a fleet/,
    );
  });

  it('is forced upon our own user where no role can be made', async () => {
    const own = await server.freshDatabase();
    const user = `plain_${process.pid}`;
    await runSql(url, `CREATE ROLE ${user} LOGIN PASSWORD 'plain'`);
    await runSql(own, `ALTER DATABASE ${new URL(own.replace('@/', '@localhost/')).pathname.slice(1)} OWNER TO ${user}`);
    await runSql(own, `GRANT ALL ON SCHEMA public TO ${user}`);
    const asPlain = own.replace(/\/\/[^@]*@/, `//${user}:plain@`);
    const plain = await server.openOn(asPlain);
    await seedMachine(plain, { machineId: 'n1', fromMs: startMs, toMs: startMs + 1000 });
    await seedMachine(plain, { machineId: 's1', fromMs: startMs, toMs: startMs + 1000 });
    await plain.moveMachine('n1', 'north');
    const [row] = await runSql(own, `SELECT relforcerowsecurity AS forced FROM pg_class WHERE relname = 'machine'`);
    expect(row?.forced).toBe(true);
    const page = await plain.forFleets(['north']).listMachines({ limit: 10, sort: 'risk' });
    expect(page.items.map(({ machineId }) => machineId)).toEqual(['n1']);
    const database = openDatabase({ connectionString: asPlain });
    const { rows } = await withinFleets(database, { role: null }, ['north']).query({
      text: 'SELECT machine_id FROM machine',
    });
    expect(rows).toEqual([{ machine_id: 'n1' }]);
    await database.close();
  });
});

describe('the first wall', () => {
  it('has a rule for every method of the store', () => {
    expect(methodsWithoutRule(store)).toEqual([]);
  });

  it('cuts every question to the machines of the fleets', async () => {
    expect((await north.listMachines({ limit: 10, sort: 'risk' })).items.map(({ machineId }) => machineId)).toEqual([
      'n1',
    ]);
    expect((await north.listMachines({ limit: 10, sort: 'name', fleets: ['south'] })).items).toEqual([]);
    expect((await north.getMachine('n1'))?.machineId).toBe('n1');
    expect(await north.getMachine('s1')).toBeNull();
    expect(await north.loadProfile('s1')).toBeNull();
    expect((await north.listFindings({ limit: 10 })).items.map(({ machineId }) => machineId)).toEqual(['n1']);
    expect((await north.listFindings({ machineId: 's1', limit: 10 })).items).toEqual([]);
    expect(await north.readSamples({ machineId: 's1', fromMs: startMs, toMs: startMs + 1000 })).toEqual([]);
    expect((await north.readSamples({ machineId: 'n1', fromMs: startMs, toMs: startMs + 1000 })).length).toBe(1);
    expect([...(await north.listRows(['n1', 's1'], startMs, startMs + 1)).keys()]).toEqual(['n1']);
    const ranges = ['n1', 's1'].map((machineId) => ({ machineId, fromMs: startMs, toMs: startMs + 1 }));
    expect([...(await north.countFindings(ranges)).keys()]).toEqual(['n1']);
    expect((await north.listFleets()).map(({ fleetId }) => fleetId)).toEqual(['north']);
  });

  it('lets nobody write beyond, nor do what concerns the whole', async () => {
    const profile = machineProfileSchema.parse({ name: 'renamed' });
    await expect(north.putMachine('s1', profile)).rejects.toThrow(/No machine/);
    await north.putMachine('n1', profile);
    expect((await store.loadProfile('n1'))?.name).toBe('renamed');
    await expect(north.moveMachine('n1', 'south')).rejects.toThrow();
    await expect(north.commit([changeOf({ machineId: 's1', fromMs: 0, toMs: 1 })])).rejects.toThrow(
      /whole installation/,
    );
    await expect(north.retain({} as never, 0)).rejects.toThrow(/whole installation/);
    expect(await north.forFleets(['south']).getMachine('s1')).toBeNull();
    expect((await north.forFleets('all').listMachines({ limit: 9, sort: 'risk' })).items).toHaveLength(1);
  });
});

describe('keys', () => {
  const secret = (text: string) => ({ hash: createHash('sha256').update(text).digest(), hint: text.slice(0, 4) });
  const key = { name: 'gate', role: 'viewer', createdBy: 'test', expiresMs: null } as const;

  it('are seen and changed only by who sees all their fleets', async () => {
    await store.addKey({ ...key, keyId: 'k-all', fleets: 'all' }, secret('a'));
    await store.addKey({ ...key, keyId: 'k-south', fleets: ['south'] }, secret('b'));
    await north.addKey({ ...key, keyId: 'k-north', fleets: ['north'] }, secret('c'));
    expect((await north.listKeys()).map(({ keyId }) => keyId)).toEqual(['k-north']);
    for (const fleets of ['all', ['south'], ['north', 'south']] as const) {
      await expect(north.addKey({ ...key, keyId: 'k-bad', fleets }, secret('d'))).rejects.toThrow();
    }
    expect(await north.revokeKey('k-south')).toBe(false);
    expect(await north.rotateKey('k-all', secret('e'), 0)).toBe(false);
    expect(await north.revokeKey('k-north')).toBe(true);
    expect((await store.getKey('k-north'))?.revokedMs).not.toBeNull();
  });

  it('have two live secrets at most', async () => {
    await store.addKey({ ...key, keyId: 'k-turn', fleets: 'all' }, secret('one'));
    expect(await store.rotateKey('k-turn', secret('two'), 60_000)).toBe(true);
    expect(await store.rotateKey('k-turn', secret('three'), 60_000)).toBe(true);
    const secrets = (await store.getKey('k-turn'))?.secrets ?? [];
    expect(secrets.map(({ hint }) => hint)).toEqual(['thre', 'two']);
    expect(secrets.map(({ untilMs }) => untilMs === null)).toEqual([true, false]);
    await store.revokeKey('k-turn');
    expect(await store.rotateKey('k-turn', secret('four'), 0)).toBe(false);
  });
});

describe('the audit log', () => {
  it('is a chain that nobody can rewrite, and that shows it if somebody does', async () => {
    const entry = {
      actorId: 'k',
      actorName: 'gate',
      action: 'PUT',
      target: 'n1',
      fleetId: 'north',
      detail: '{"a":"\u0000"}',
    };
    for (let n = 0; n < 5; n++) await store.appendAudit({ ...entry, target: `n${n}` });
    await store.appendAudit({ ...entry, fleetId: 'south' });
    await Promise.all(Array.from({ length: 8 }, (_, n) => store.appendAudit({ ...entry, target: `p${n}` })));
    expect(await store.checkAudit()).toEqual({ entries: 14, brokenAt: null });
    const first = await store.listAudit({ limit: 10 });
    const second = await store.listAudit({ limit: 10, cursor: first.nextCursor ?? '' });
    expect([...first.items, ...second.items].map(({ number }) => number)).toEqual([
      14, 13, 12, 11, 10, 9, 8, 7, 6, 5, 4, 3, 2, 1,
    ]);
    expect((await north.listAudit({ limit: 20 })).items).toHaveLength(13);
    for (const text of [
      `UPDATE audit_entry SET actor_name = 'nobody' WHERE number = 3`,
      'DELETE FROM audit_entry WHERE number = 3',
      'TRUNCATE audit_entry',
    ]) {
      await expect(runSql(url, text), text).rejects.toThrow(/never changed or deleted/);
      await expect(runSql(url, `SET ROLE warmbrick_api; ${text}`), text).rejects.toThrow(
        /permission denied|never changed/,
      );
    }
    // Somebody with full power over the database can, and is found out.
    await runSql(
      url,
      `ALTER TABLE audit_entry DISABLE TRIGGER ALL; UPDATE audit_entry SET actor_name = 'nobody' WHERE number = 3;
        ALTER TABLE audit_entry ENABLE TRIGGER ALL`,
    );
    expect(await store.checkAudit()).toEqual({ entries: 14, brokenAt: 3 });
  });
});

describe('answers to repeat', () => {
  it('are given once more to the same request, and to nobody else', async () => {
    const request = { caller: 'k', key: 'key-1', request: Buffer.from('a') };
    expect(await store.beginRepeatable(request)).toEqual({ state: 'new' });
    expect(await store.beginRepeatable(request)).toEqual({ state: 'under-way' });
    await store.endRepeatable('k', 'key-1', { status: 201, body: '{}' });
    expect(await store.beginRepeatable(request)).toEqual({ state: 'answered', status: 201, body: '{}' });
    expect(await store.beginRepeatable({ ...request, request: Buffer.from('b') })).toEqual({ state: 'other-request' });
    expect(await store.beginRepeatable({ ...request, caller: 'other' })).toEqual({ state: 'new' });
    await store.endRepeatable('other', 'key-1', null);
    expect(await store.beginRepeatable({ ...request, caller: 'other' })).toEqual({ state: 'new' });
  });
});
