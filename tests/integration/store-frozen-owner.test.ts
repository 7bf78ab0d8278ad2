/**
 * An owner that freezes in the middle of its transaction. Random kills do not find this case, so it is made on purpose:
 * a relay between the store and the server stops passing anything on once the cursor has been moved.
 */

import { mkdtempSync, rmSync } from 'node:fs';
import { createConnection, createServer, type Server, type Socket } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { openStore } from '@warmbrick/store';
import pg from 'pg';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { changeOf, hourStartMs, steadyBlock } from '../store/blocks.js';
import { startTestServer, type TestServer } from '../store/postgres.js';

/** The store lets a transaction idle this long; claims wait for no more than that and some work of the server. */
const idleInTransactionMs = 5_000;

let server: TestServer;
let folder: string;
let relay: Relay;

beforeAll(async () => {
  server = await startTestServer();
  folder = mkdtempSync(join(tmpdir(), 'warmbrick-relay-'));
});
afterAll(async () => {
  relay?.close();
  rmSync(folder, { recursive: true, force: true });
  await server.stop();
});

interface Relay {
  /** Done when the cursor was moved and nothing passes any more. */
  readonly frozen: Promise<void>;
  thaw(): void;
  close(): void;
}

/** Passes bytes between clients of `folder` and the server, until a client has moved a cursor. */
function startRelay(connect: () => Socket): Relay {
  const sockets: Socket[] = [];
  const held: (() => void)[] = [];
  let isFrozen = false;
  let isArmed = true;
  let hasFrozen: () => void = () => {};
  const frozen = new Promise<void>((settle) => {
    hasFrozen = settle;
  });
  const listener: Server = createServer((client) => {
    const upstream = connect();
    sockets.push(client, upstream);
    let isMoving = false;
    client.on('data', (bytes) => {
      if (isArmed && bytes.includes('UPDATE ingest_cursor')) {
        isArmed = false;
        isMoving = true;
      }
      if (isFrozen) held.push(() => upstream.write(bytes));
      else upstream.write(bytes);
    });
    upstream.on('data', (bytes) => {
      if (isMoving) {
        isMoving = false;
        isFrozen = true;
        hasFrozen();
      }
      if (isFrozen) held.push(() => client.write(bytes));
      else client.write(bytes);
    });
    for (const [from, to] of [
      [client, upstream],
      [upstream, client],
    ] as const) {
      from.on('error', () => to.destroy());
      from.on('close', () => to.destroy());
    }
  }).listen(join(folder, '.s.PGSQL.5432'));
  return {
    frozen,
    thaw() {
      isFrozen = false;
      for (const pass of held.splice(0)) pass();
    },
    close() {
      for (const socket of sockets) socket.destroy();
      listener.close();
    },
  };
}

describe('an owner frozen in the middle of its commit', () => {
  it('holds the next owner up no longer than a transaction may idle, and then writes nothing', async () => {
    const url = await server.freshDatabase();
    const direct = new pg.Client({ connectionString: url });
    const { host, port, user, database, password } = direct as unknown as Record<string, string>;
    const isSocket = host?.startsWith('/') === true;
    const connect = () =>
      isSocket ? createConnection(`${host}/.s.PGSQL.${port}`) : createConnection(Number(port), host as string);
    const next = await server.openOn(url);
    const place = { source: 'frozen', partition: 0 };

    relay = startRelay(connect);
    const old = await openStore({ host: folder, port: 5432, user, database, ...(password ? { password } : {}) });
    const { epoch } = await old.claim(place.source, 0);
    const samples = [steadyBlock('m', hourStartMs, 60)];
    const lateCommit = old.commit([changeOf('m', { samples })], { ...place, epoch, nextOffset: 60 }).then(
      () => 'committed',
      (error: unknown) => error,
    );
    await relay.frozen;

    const beganAt = performance.now();
    const claim = await next.claim(place.source, 0);
    const waitedMs = performance.now() - beganAt;
    // It did wait, so the frozen transaction held the row; and not for ever.
    expect(waitedMs).toBeGreaterThan(idleInTransactionMs / 2);
    expect(waitedMs).toBeLessThan(2 * idleInTransactionMs);
    expect(claim).toEqual({ nextOffset: 0, epoch: epoch + 1 });

    relay.thaw();
    expect(await lateCommit).toMatchObject({ code: 'store-unavailable', isRetriable: true });
    // The late owner does what it is told and tries again: now it is fenced.
    const again = old.commit([changeOf('m', { samples })], { ...place, epoch, nextOffset: 60 });
    await expect(again).rejects.toMatchObject({ code: 'fenced' });
    expect(await next.getMachine('m')).toBeNull();
    expect(await next.readSamples({ machineId: 'm', fromMs: 0, toMs: 1e14 })).toEqual([]);
    await old.close();
  }, 60_000);
});
