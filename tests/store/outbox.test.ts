import type { OutboxMessage, Store } from '@warmbrick/store';
import fc from 'fast-check';
import { afterAll, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { changeOf, findingAt, hourStartMs } from './blocks.js';
import { runSql, startTestServer, type TestServer } from './postgres.js';

let server: TestServer;
let url: string;
let store: Store;

beforeAll(async () => {
  server = await startTestServer();
});
afterAll(() => server.stop());
beforeEach(async () => {
  url = await server.freshDatabase();
  store = await server.openOn(url, { outbox: true });
});

const take = (limit = 100, leaseMs = 60_000) => store.takeOutbox({ limit, leaseMs, owner: 'test' });
const namesOf = (messages: readonly OutboxMessage[]) =>
  messages.map(
    ({ key, findingId, revision, payload }) => `${key} ${findingId.split('~')[2]} ${revision} ${payload.type}`,
  );

/** Findings of a machine that are told apart by their start. */
async function make(machineId: string, ...starts: number[]): Promise<void> {
  await store.commit([changeOf(machineId, { findings: starts.map((start) => findingAt(machineId, start)) })]);
}

describe('what is written', () => {
  it('is a message for each finding that is new, changed or withdrawn, and none for one that only comes again', async () => {
    const first = findingAt('m', hourStartMs);
    const ended = { ...first, endedMs: hourStartMs + 1 };
    await store.commit([changeOf('m', { findings: [first] })]);
    await store.commit([changeOf('m', { findings: [{ ...first, emittedMs: first.emittedMs + 1 }] })]);
    await store.commit([changeOf('m', { findings: [ended] })]);
    await store.commit([changeOf('m', { withdrawnFindingIds: [first.id, 'never-made'] })]);
    await store.commit([changeOf('m', { withdrawnFindingIds: [first.id] })]);
    await store.commit([changeOf('m', { findings: [ended] })]);
    const messages = await take();
    expect(messages.map(({ payload, revision }) => ({ payload, revision }))).toEqual([
      { revision: 1, payload: { type: 'made', machineId: 'm', finding: first } },
      { revision: 2, payload: { type: 'made', machineId: 'm', finding: ended } },
      { revision: 3, payload: { type: 'withdrawn', machineId: 'm', findingId: first.id } },
      { revision: 4, payload: { type: 'made', machineId: 'm', finding: ended } },
    ]);
    expect(messages[0]).toMatchObject({
      topic: 'aftertreatment.findings.v1',
      key: 'm',
      findingId: first.id,
      attempts: 1,
    });
    expect(Math.abs((messages[0]?.atMs ?? 0) - Date.now())).toBeLessThan(60_000);
  });

  it('is nothing when the commit fails, or without the option', async () => {
    const bad = changeOf('b', { findings: [findingAt('b', 0.5)] });
    await expect(store.commit([changeOf('a', { findings: [findingAt('a', 1)] }), bad])).rejects.toThrow();
    const plain = await server.openOn(url);
    await plain.commit([changeOf('a', { findings: [findingAt('a', 2)], withdrawnFindingIds: ['x'] })]);
    expect(await take()).toEqual([]);
    await make('a', 3);
    expect(namesOf(await take())).toEqual(['a 3 1 made']);
  });
});

describe('what is taken', () => {
  it('comes once while leased, again when the lease is over, and no more when settled', async () => {
    await make('m', 1, 2);
    const first = await take(100, 50);
    expect(namesOf(first)).toEqual(['m 1 1 made', 'm 2 1 made']);
    expect(await take()).toEqual([]);
    await new Promise((resolve) => setTimeout(resolve, 80));
    const again = await take();
    expect(again.map(({ id, attempts }) => [id, attempts])).toEqual(first.map(({ id }) => [id, 2]));
    await store.settleOutbox(again.map(({ id }) => id));
    await store.settleOutbox(again.map(({ id }) => id));
    await store.failOutbox([again[0]?.id as number], 0);
    expect(await take()).toEqual([]);
  });

  it('keeps the order of a key: nothing of it passes one that is leased or waits', async () => {
    await make('a', 1);
    await make('b', 1);
    const [a1] = await take(1);
    expect(a1?.key).toBe('a');
    await make('a', 2);
    expect(namesOf(await take())).toEqual(['b 1 1 made']);
    await store.failOutbox([a1?.id as number], Date.now() + 60_000);
    expect(await take()).toEqual([]);
    await store.failOutbox([a1?.id as number], 0);
    expect(namesOf(await take())).toEqual(['a 1 1 made', 'a 2 1 made']);
  });

  it('gives each of many takers at once its own, and each key in order', async () => {
    const owners = fc.array(
      fc.record({ owner: fc.nat(4), limit: fc.integer({ min: 1, max: 7 }), fails: fc.boolean() }),
      {
        minLength: 5,
        maxLength: 30,
      },
    );
    let runs = 0;
    await fc.assert(
      fc.asyncProperty(owners, async (turns) => {
        await runSql(url, 'TRUNCATE outbox');
        const base = ++runs * 1000;
        for (const key of ['a', 'b', 'c']) await make(key, base, base + 1, base + 2, base + 3);
        const sent: OutboxMessage[] = [];
        const work = async ({ owner, limit, fails }: (typeof turns)[number]) => {
          const got = await store.takeOutbox({ limit, leaseMs: 60_000, owner: String(owner) });
          const ids = got.map(({ id }) => id);
          if (fails) await store.failOutbox(ids, 0);
          else {
            sent.push(...got);
            await store.settleOutbox(ids);
          }
        };
        for (let at = 0; at < turns.length; at += 3) await Promise.all(turns.slice(at, at + 3).map(work));
        sent.push(...(await take()));
        expect(sent).toHaveLength(12);
        for (const key of ['a', 'b', 'c']) {
          const ids = sent.filter((message) => message.key === key).map(({ id }) => id);
          expect(ids).toEqual([...ids].sort((one, other) => one - other));
        }
      }),
      { numRuns: 15 },
    );
  }, 60_000);
});
