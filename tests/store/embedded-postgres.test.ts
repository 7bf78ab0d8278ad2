import {
  chmodSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  statSync,
  truncateSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { createLogger } from '@warmbrick/runtime';
import { defaultDataFolder, type EmbeddedPostgres, openStore, startEmbeddedPostgres } from '@warmbrick/store';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { isRunning, startChild } from './child.js';
import { runSql } from './postgres.js';

let folder: string;
let dataDir: string;
const started: EmbeddedPostgres[] = [];
const logger = createLogger({ name: 'test', level: 'silent' });
const isRoot = process.getuid?.() === 0;

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'warmbrick-test-'));
  chmodSync(folder, 0o755);
  dataDir = join(folder, 'data');
});
afterEach(async () => {
  for (const server of started.splice(0)) await server.stop();
  rmSync(folder, { recursive: true, force: true });
});

async function start(options: { dataDir?: string; fallbackRoot?: string } = {}): Promise<EmbeddedPostgres> {
  const server = await startEmbeddedPostgres({ dataDir, logger, ...options });
  started.push(server);
  return server;
}

describe('an embedded server', () => {
  it('loses nothing to a power cut, listens to no network, and lets only its own user in', async () => {
    const server = await start();
    const rows = await runSql(
      server.connectionString,
      `SELECT name, setting FROM pg_settings WHERE name IN
        ('fsync', 'synchronous_commit', 'full_page_writes', 'listen_addresses', 'server_encoding', 'jit') ORDER BY name`,
    );
    expect(Object.fromEntries(rows.map((row) => [row.name, row.setting]))).toEqual({
      fsync: 'on',
      full_page_writes: 'on',
      jit: 'off',
      listen_addresses: '',
      server_encoding: 'UTF8',
      synchronous_commit: 'on',
    });
    const { socketFolder } = server;
    expect(statSync(socketFolder).mode & 0o777).toBe(0o700);
    expect(statSync(server.cluster).mode & 0o777).toBe(0o700);
    // Source: unix(7): sun_path holds 108 bytes with the closing zero.
    expect(Buffer.byteLength(join(socketFolder, '.s.PGSQL.5432'))).toBeLessThan(108);
  });

  it('leaves no process, socket or lock behind when stopped, however often', async () => {
    const server = await start();
    const pid = server.pid() as number;
    const { socketFolder } = server;
    expect(isRunning(pid)).toBe(true);
    await Promise.all([server.stop(), server.stop()]);
    expect(isRunning(pid)).toBe(false);
    expect(existsSync(socketFolder)).toBe(false);
    expect(existsSync(join(dataDir, 'lock'))).toBe(false);
    await server.stop();
  });

  it('takes a data folder with a long and odd name', async () => {
    const server = await start({ dataDir: join(dataDir, 'Steinbruch Süd '.repeat(8), "it's") });
    expect(await runSql(server.connectionString, 'SELECT 1 AS one')).toEqual([{ one: 1 }]);
  });

  it('is started again when it is killed, and the store goes on', async () => {
    const server = await start();
    const store = await openStore({ connectionString: server.connectionString });
    try {
      for (let kill = 0; kill < 2; kill++) {
        const pid = server.pid() as number;
        process.kill(pid, 'SIGKILL');
        const until = Date.now() + 15_000;
        while (server.pid() === pid || server.pid() === null) {
          expect(Date.now()).toBeLessThan(until);
          await sleep(20);
        }
        await store.ping().catch((error: unknown) => expect(error).toMatchObject({ isRetriable: true }));
        await store.ping();
      }
    } finally {
      await store.close();
    }
  });

  it('is given up on when it keeps ending, and says so', async () => {
    const given = new Promise((settle) => {
      startEmbeddedPostgres({ dataDir, logger, onGiveUp: settle }).then((server) => {
        started.push(server);
        // Without its configuration no start can succeed.
        rmSync(join(server.cluster, 'postgresql.conf'));
        process.kill(server.pid() as number, 'SIGKILL');
      });
    });
    expect(await given).toMatchObject({ code: 'server-keeps-ending' });
    await started[0]?.stop();
    expect(existsSync(started[0]?.socketFolder as string)).toBe(false);
  });
});

describe('the lock of a data folder', () => {
  it('refuses a second start in this process and in another, naming the one that holds it', async () => {
    await start();
    const again = startEmbeddedPostgres({ dataDir, logger });
    await expect(again).rejects.toMatchObject({
      code: 'data-folder-in-use',
      message: expect.stringContaining(`process ${process.pid}`),
    });
    const child = startChild('server-host.ts', ['hold', dataDir]);
    expect(await child.line('failed')).toMatchObject({
      failed: 'data-folder-in-use',
      message: expect.stringContaining(`process ${process.pid}`),
    });
    await child.end('SIGKILL');
  });

  it('is taken over when its process is gone, its number reused, or the file cut short', async () => {
    mkdirSync(dataDir);
    const lock = join(dataDir, 'lock');
    // Process 1 always runs, but was not started when this lock says.
    for (const stale of ['{"pid":1,"identity":"an earlier boot:17"}', '{"pid":1,"ide', '']) {
      writeFileSync(lock, stale);
      const server = await start();
      expect(JSON.parse(readFileSync(lock, 'utf8'))).toMatchObject({ pid: process.pid });
      await server.stop();
    }
    expect(readdirSync(dataDir).filter((name) => name.startsWith('lock'))).toEqual([]);
  });
});

describe('a data folder that cannot be used', () => {
  it('is told as something to mend: below a file', async () => {
    writeFileSync(dataDir, '');
    const starting = startEmbeddedPostgres({ dataDir: join(dataDir, 'below'), logger });
    await expect(starting).rejects.toMatchObject({ code: 'data-folder-not-writable', isRetriable: false });
  });

  it('is told as something to mend: of another user', async () => {
    mkdirSync(dataDir, { mode: 0o555 });
    // For root, who may write everywhere, the child becomes an ordinary user.
    const prefix = isRoot ? ['setpriv', '--reuid=65534', '--regid=65534', '--clear-groups'] : [];
    const child = startChild('server-host.ts', ['hold', dataDir], { prefix });
    expect(await child.line('failed')).toMatchObject({
      failed: 'data-folder-not-writable',
      message: expect.stringContaining(dataDir),
    });
    await child.end('SIGKILL');
  });
});

describe('what a kill leaves behind', () => {
  it('is mended at the next start: a half-made copy, a half-made database', async () => {
    const first = await start();
    await first.stop();
    const programs = join(dataDir, 'programs');
    const version = readdirSync(programs)[0] as string;
    // A power cut may leave files of no length under their final name.
    truncateSync(join(programs, version, 'bin', 'postgres'), 0);
    mkdirSync(join(programs, `${version}.draft`));
    rmSync(first.cluster, { recursive: true });
    mkdirSync(`${first.cluster}.draft`);
    writeFileSync(join(`${first.cluster}.draft`, 'PG_VERSION'), '18');
    const second = await start();
    expect(await runSql(second.connectionString, 'SELECT 1 AS one')).toEqual([{ one: 1 }]);
    expect(readdirSync(programs)).toEqual([version]);
  });

  it('does not stop a start when the pid file of the server names a process that is none', async () => {
    const first = await start();
    await first.stop();
    writeFileSync(join(first.cluster, 'postmaster.pid'), `${process.pid}\n${first.cluster}\n0\n5432\n\n\n\nready\n`);
    const second = await start();
    expect(await runSql(second.connectionString, 'SELECT 1 AS one')).toEqual([{ one: 1 }]);
  });
});

describe('a data folder that only root can enter', () => {
  it.skipIf(!isRoot)('keeps its database elsewhere, and finds it again (runs as root only)', async () => {
    mkdirSync(dataDir, { mode: 0o700 });
    const fallbackRoot = join(folder, 'elsewhere');
    const first = await start({ fallbackRoot });
    expect(first.cluster.startsWith(fallbackRoot)).toBe(true);
    await runSql(first.connectionString, 'CREATE TABLE kept (n int)');
    await first.stop();
    chmodSync(dataDir, 0o755);
    const second = await start();
    expect(await runSql(second.connectionString, 'SELECT * FROM kept')).toEqual([]);
  });
});

describe('the default data folder', () => {
  // Source of the XDG rows: XDG Base Directory Specification 0.8, "XDG_DATA_HOME"; relative paths are to be ignored.
  const home = '/home/ada';
  it.each([
    [{ env: { WARMBRICK_DATA_DIR: '/srv/wb', XDG_DATA_HOME: '/x' }, home }, '/srv/wb'],
    [{ env: { XDG_DATA_HOME: '/x' }, home }, '/x/warmbrick'],
    [{ env: { XDG_DATA_HOME: 'x' }, home }, '/home/ada/.local/share/warmbrick'],
    [{ env: {}, home, uid: 1000 }, '/home/ada/.local/share/warmbrick'],
    [{ env: {}, home: '/root', uid: 0 }, '/var/lib/warmbrick'],
    [{ env: {}, home, platform: 'darwin' }, '/home/ada/Library/Application Support/warmbrick'],
  ] as const)('%j is %s', (context, expected) => {
    expect(defaultDataFolder(context)).toBe(expected);
  });
});
