/** The notifier as a process that is killed again and again: nothing is lost, and a receiver that counts by id counts nothing twice. */

import { setTimeout as sleep } from 'node:timers/promises';
import type { Store } from '@warmbrick/store';
import { afterAll, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { deliveryId } from '../../services/notifier/src/delivery-id.js';
import { type Child, startChild } from '../store/child.js';
import { runSql, startTestServer, type TestServer } from '../store/postgres.js';
import { alertEvent, destinationOf, writeOutbox } from './alerts.js';
import { type Receiver, startReceiver } from './receiver.js';

let server: TestServer;
let url: string;
let store: Store;
let receiver: Receiver;
let children: Child[] = [];

beforeAll(async () => {
  server = await startTestServer();
});
afterAll(() => server.stop());
beforeEach(async () => {
  url = await server.freshDatabase();
  store = await server.openOn(url);
  receiver = await startReceiver();
  await store.putDestination(destinationOf('d', { address: receiver.url }));
  return async () => {
    for (const child of children) await child.end('SIGKILL');
    children = [];
    await receiver.close();
  };
});

const main = '../../services/notifier/src/main.ts';

function start(): Child {
  const env = {
    DATABASE_URL: url,
    WARMBRICK_PUBLIC_URL: 'http://warm.example',
    WARMBRICK_WEBHOOK_ALLOWED_RANGES: '127.0.0.0/8',
    WARMBRICK_LOG_LEVEL: 'error',
  };
  const child = startChild(main, [], { env });
  children.push(child);
  return child;
}

const machines = Array.from({ length: 30 }, (_, k) => `m${k}`);
const events = machines.flatMap((machineId) => [
  alertEvent(machineId, 0),
  alertEvent(machineId, 1, { step: 'closed', notice: 'inform' }),
]);
const expected = events.map(({ episodeId, sequence }) => deliveryId(episodeId, sequence, 'd')).sort();
async function allSent(): Promise<void> {
  for (const endMs = Date.now() + 60_000; ; await sleep(100)) {
    const { items } = await store.listDeliveries({ limit: 1000, state: 'sent' });
    if (items.length === expected.length) return;
    if (Date.now() > endMs) throw new Error(`only ${items.length} of ${expected.length} were sent in a minute`);
  }
}

/** Leases of dead owners are made to end now; waiting for them would only take longer. */
const endLeases = () =>
  runSql(url, `UPDATE delivery SET available = 0 WHERE state = 'waiting'; UPDATE outbox SET available = 0`);

describe('a notifier that is killed', () => {
  it('in the moment of a delivery and at any other loses and repeats nothing', async () => {
    await writeOutbox(url, events);
    let kills = 0;
    let isLast = false;
    receiver.answer = (response, id) => {
      // The message has arrived and nobody has written it down yet.
      if (!isLast && receiver.bodies.size % 7 === 3 && receiver.bodies.get(id)?.size === 1) {
        kills++;
        void children.at(-1)?.end('SIGKILL');
        return;
      }
      response.writeHead(200).end();
    };
    for (let round = 0; round < 4; round++) {
      const child = start();
      await child.line('ready');
      // The first one in the moment of a delivery, however long that takes to come; the others at any moment.
      for (const endMs = Date.now() + 30_000; round === 0 && kills === 0 && Date.now() < endMs; ) await sleep(10);
      await sleep(40 * round);
      await child.end('SIGKILL');
      await endLeases();
    }
    isLast = true;
    start();
    await allSent();
    expect([...receiver.bodies.keys()].sort()).toEqual(expected);
    expect([...receiver.bodies.values()].every((bodies) => bodies.size === 1)).toBe(true);
    // Of each alert the end came after the beginning.
    const order = [...receiver.bodies.keys()];
    for (const { episodeId } of events) {
      expect(order.indexOf(deliveryId(episodeId, 0, 'd'))).toBeLessThan(order.indexOf(deliveryId(episodeId, 1, 'd')));
    }
    expect(kills).toBeGreaterThan(0);
  }, 120_000);

  it('and two at once share the work', async () => {
    start();
    start();
    await writeOutbox(url, events);
    await allSent();
    expect([...receiver.bodies.keys()].sort()).toEqual(expected);
    const tries = (await store.listDeliveries({ limit: 1000 })).items.map(({ attempts }) => attempts);
    expect(tries.every((count) => count === 1)).toBe(true);
  });
});

describe('the process', () => {
  it('says what is wrong with its settings and ends with 2', async () => {
    const env = { WARMBRICK_PUBLIC_URL: 'warm.example', WARMBRICK_WEBHOOK_ALLOWED_RANGES: 'somewhere' };
    const child = startChild(main, [], { env });
    children.push(child);
    await expect(child.line('ready')).rejects.toThrow(/databaseUrl[\s\S]*10\.20\.0\.0\/16/);
    expect(child.process.exitCode).toBe(2);
  });
});
