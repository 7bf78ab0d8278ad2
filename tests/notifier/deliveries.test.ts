/** Deliveries in a real database. */

import type { NewDelivery, Store } from '@warmbrick/store';
import { afterAll, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { startTestServer, type TestServer } from '../store/postgres.js';
import { alertEvent, destinationOf, writeOutbox } from './alerts.js';

let server: TestServer;
let url: string;
let store: Store;

beforeAll(async () => {
  server = await startTestServer();
});
afterAll(() => server.stop());
beforeEach(async () => {
  url = await server.freshDatabase();
  store = await server.openOn(url);
  await store.putDestination(destinationOf('a'));
  await store.putDestination(destinationOf('b'));
});

const delivery = (id: string, other: Partial<NewDelivery> = {}): NewDelivery => ({
  id,
  destinationId: 'a',
  machineId: 'm',
  threadId: id,
  subject: 's',
  body: 'b',
  text: 't',
  availableMs: 0,
  onlyIfHeard: false,
  ...other,
});
const lease = {
  mode: 'one-by-one',
  destinationIds: [] as string[],
  limit: 100,
  perDestination: 100,
  leaseMs: 60_000,
  owner: 'test',
} as const;
const take = async (other: Partial<Parameters<Store['takeDeliveries']>[0]> = {}) =>
  (await store.takeDeliveries({ ...lease, ...other })).map(({ id }) => id);
const settle = (deliveryId: string, state: 'sent' | 'dead' | 'waiting', availableMs = 0) =>
  store.recordAttempts([
    {
      deliveryId,
      state,
      availableMs,
      attempt: { atMs: 5, result: 'taken', status: '200', detail: 'a\u0000b', tookMs: 3 },
    },
  ]);

describe('destinations', () => {
  it('are kept whole, replaced and deleted with what waits for them', async () => {
    const changed = destinationOf('a', { quiet: { timeZone: 'UTC', from: '22:00', to: '06:00' } });
    await store.putDestination(changed);
    expect(await store.listDestinations()).toEqual([changed, destinationOf('b')]);
    await store.fanOut([], [delivery('x')]);
    expect(await store.deleteDestination('a')).toBe(true);
    expect(await store.deleteDestination('a')).toBe(false);
    expect(await take()).toEqual([]);
    await store.fanOut([], [delivery('y')]);
    expect((await store.listDeliveries({ limit: 10 })).items).toEqual([]);
  });
});

describe('planning', () => {
  it('settles the outbox and writes each delivery once, together', async () => {
    await writeOutbox(url, [alertEvent('m', 0)]);
    const [message] = await store.takeOutbox({
      topic: 'aftertreatment.alerts.v1',
      limit: 9,
      leaseMs: 0,
      owner: 'test',
    });
    await store.fanOut([message?.id as number], [delivery('x')]);
    await store.fanOut([message?.id as number], [delivery('x', { body: 'other' })]);
    const { items } = await store.listDeliveries({ limit: 10 });
    expect(items).toMatchObject([{ id: 'x', body: 'b', state: 'waiting', attempts: 0 }]);
    expect(await store.takeOutbox({ topic: 'aftertreatment.alerts.v1', limit: 9, leaseMs: 0, owner: 'test' })).toEqual(
      [],
    );
  });

  it('leaves out the end of what a destination never heard of', async () => {
    await store.fanOut([], [delivery('end', { threadId: 't', onlyIfHeard: true })]);
    await store.fanOut([], [delivery('start', { threadId: 't', destinationId: 'b' })]);
    await store.fanOut([], [delivery('end-b', { threadId: 't', destinationId: 'b', onlyIfHeard: true })]);
    expect((await store.listDeliveries({ limit: 10 })).items.map(({ id }) => id)).toEqual(['end-b', 'start']);
  });
});

describe('what is taken', () => {
  it('is due, once while leased, and in order within a thread', async () => {
    const later = Date.now() + 3_600_000;
    await store.fanOut(
      [],
      [
        delivery('1', { threadId: 't' }),
        delivery('2', { threadId: 't' }),
        delivery('3', { threadId: 't', destinationId: 'b' }),
        delivery('4', { availableMs: later }),
      ],
    );
    expect(await take()).toEqual(['1', '3']);
    expect(await take()).toEqual([]);
    await settle('1', 'waiting');
    expect(await take()).toEqual(['1']);
    await settle('1', 'sent');
    expect(await take()).toEqual(['2']);
  });

  it('comes again when its owner died, and goes on after a dead letter', async () => {
    await store.fanOut([], [delivery('1', { threadId: 't' }), delivery('2', { threadId: 't' })]);
    expect(await take({ leaseMs: 0 })).toEqual(['1']);
    expect(await take()).toEqual(['1']);
    await settle('1', 'dead');
    expect(await take()).toEqual(['2']);
  });

  it('is bounded for each destination, and busy ones are passed over', async () => {
    await store.fanOut(
      [],
      ['1', '2', '3', '4'].map((id) => delivery(id)),
    );
    await store.fanOut([], [delivery('5', { destinationId: 'b' })]);
    expect(await take({ perDestination: 2, destinationIds: ['b'], leaseMs: 0 })).toEqual(['1', '2']);
    // What was tried a moment ago has gone to the end of the queue.
    expect(await take({ perDestination: 1, leaseMs: 0 })).toEqual(['3', '5']);
  });

  it('is whole threads at once for a digest', async () => {
    await store.fanOut([], [delivery('1', { threadId: 't' }), delivery('2', { threadId: 't' })]);
    await store.fanOut([], [delivery('3', { destinationId: 'b' })]);
    expect(await take({ mode: 'together', destinationIds: ['a'] })).toEqual(['1', '2']);
  });

  it('is nobody else’s, however many take at once', async () => {
    await store.fanOut(
      [],
      Array.from({ length: 60 }, (_, k) => delivery(`d${k}`)),
    );
    const takes = await Promise.all(Array.from({ length: 8 }, () => take({ limit: 10 })));
    const ids = takes.flat();
    expect(ids.length).toBe(60);
    expect(new Set(ids).size).toBe(60);
  });
});

describe('the log', () => {
  it('has every try, and a delivery can be sent once more with the same bytes', async () => {
    await store.fanOut([], [delivery('1')]);
    await take();
    await settle('1', 'waiting');
    await take();
    await settle('1', 'dead');
    expect(await store.deliveryAttempts('1')).toEqual(
      Array(2).fill({ atMs: 5, result: 'taken', status: '200', detail: 'a\ufffdb', tookMs: 3 }),
    );
    expect(await store.deliveryAttempts('no such')).toBeNull();
    expect(await store.resendDelivery('1', 0)).toBe(true);
    expect(await store.resendDelivery('no such', 0)).toBe(false);
    const [again] = await store.takeDeliveries(lease);
    expect(again).toMatchObject({ id: '1', body: 'b', attempts: 1 });
  });

  it('keeps the state of what was settled meanwhile', async () => {
    await store.fanOut([], [delivery('1')]);
    await take({ leaseMs: 0 });
    await settle('1', 'sent');
    await settle('1', 'waiting');
    expect((await store.listDeliveries({ limit: 1 })).items[0]?.state).toBe('sent');
  });

  it('is listed by page, destination, machine and state', async () => {
    await store.fanOut([], [delivery('1'), delivery('2', { machineId: 'n' }), delivery('3', { destinationId: 'b' })]);
    await settle('1', 'sent');
    const ids = async (page: Partial<Parameters<Store['listDeliveries']>[0]>) =>
      (await store.listDeliveries({ limit: 10, ...page })).items.map(({ id }) => id);
    expect(await ids({})).toEqual(['3', '2', '1']);
    expect(await ids({ destinationId: 'a' })).toEqual(['2', '1']);
    expect(await ids({ machineId: 'n' })).toEqual(['2']);
    expect(await ids({ state: 'sent' })).toEqual(['1']);
    const first = await store.listDeliveries({ limit: 2 });
    expect(await ids({ cursor: first.nextCursor ?? '' })).toEqual(['1']);
  });

  it('loses what is old and settled', async () => {
    await store.fanOut([], [delivery('1'), delivery('2')]);
    await settle('1', 'sent');
    expect(await store.retireDeliveries(Date.now() + 1000, 10)).toBe(1);
    expect((await store.listDeliveries({ limit: 10 })).items.map(({ id }) => id)).toEqual(['2']);
  });
});
