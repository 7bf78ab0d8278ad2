/** Promotions on a real store: each sample is judged by the set of its own time, whatever the order of arrival. */

import { builtInThresholds, type Finding, thresholdSetSchema } from '@warmbrick/analysis';
import { createIngest } from '@warmbrick/ingest';
import { machineProfileSchema } from '@warmbrick/signals';
import type { NewPromotion, Store } from '@warmbrick/store';
import { idle, off, recordingOf, work } from '@warmbrick/testkit';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { startTestServer, type TestServer } from '../store/postgres.js';
import { pieces } from './drive.js';

let server: TestServer;
const urls = new WeakMap<Store, string>();
beforeAll(async () => {
  server = await startTestServer();
});
afterAll(() => server.stop());

const quiet = { info() {}, warn() {}, error() {} };
const profile = machineProfileSchema.parse({ machineClass: 'wheel loader' });
const day = (machineId: string) =>
  recordingOf([off(60), work(1800), idle(2700), work(900), idle(2700), work(600), idle(4000), work(60), off(1200)], {
    machineId,
  });
const firstMs = day('m').timeMs[0] as number;
const strict = thresholdSetSchema.parse({ version: 'strict', values: { idleLimitS: 1800 } });

async function storeWith(...promotions: Partial<NewPromotion>[]): Promise<Store> {
  const url = await server.freshDatabase();
  const store = await server.openOn(url);
  urls.set(store, url);
  await store.addThresholdSet({ set: strict, author: 'ada', reason: 'test', trialId: null, needsApproval: false });
  for (const one of promotions) await promote(store, one);
  return store;
}

const promote = (store: Store, some: Partial<NewPromotion>) =>
  store.addPromotion({
    version: 'strict',
    scope: { kind: 'all', name: null },
    fromMs: firstMs,
    isRecomputed: false,
    author: 'ada',
    reason: 'test',
    ...some,
  });

async function take(
  store: Store,
  machineId: string,
  order: (i: number, count: number) => number = (i) => i,
): Promise<void> {
  const ingest = createIngest({ store, thresholds: builtInThresholds, logger: quiet });
  await ingest.register(machineId, profile);
  const cut = pieces(day(machineId), 1000);
  const turns = cut.map((_, i) => i).sort((a, b) => order(a, cut.length) - order(b, cut.length));
  for (const turn of turns) await ingest.accept([cut[turn] as (typeof cut)[number]], { isRecorded: true });
  await ingest.close();
}

async function idles(store: Store, machineId: string): Promise<[number, string][]> {
  const { items } = await store.listFindings({ machineId, limit: 100, kinds: ['idle-streak'] });
  return items
    .map(({ startedMs, thresholdSet }: Finding): [number, string] => [(startedMs - firstMs) / 1000, thresholdSet])
    .sort((a, b) => a[0] - b[0]);
}

const [firstIdleS, secondIdleS, thirdIdleS] = [1860, 5460, 8760];

describe('promoted sets', () => {
  it('judge from their time on, the same in any order of arrival', async () => {
    const fromMs = firstMs + 5_000_000;
    const expected = [
      [secondIdleS, 'strict'],
      [thirdIdleS, 'strict'],
    ];
    const inOrder = await storeWith({ fromMs });
    await take(inOrder, 'loader-1');
    expect(await idles(inOrder, 'loader-1')).toEqual(expected);
    const shuffled = await storeWith({ fromMs });
    await take(shuffled, 'loader-1', (i, count) => (i * 7) % count);
    expect(await idles(shuffled, 'loader-1')).toEqual(expected);
  });

  it('concern only whom they are for', async () => {
    const store = await storeWith(
      { scope: { kind: 'machine', name: 'loader-2' } },
      { scope: { kind: 'class', name: 'crane' } },
    );
    await take(store, 'loader-1');
    await take(store, 'loader-2');
    expect(await idles(store, 'loader-1')).toEqual([[thirdIdleS, 'built-in-1']]);
    expect((await idles(store, 'loader-2')).map(([atS]) => atS)).toEqual([firstIdleS, secondIdleS, thirdIdleS]);
  });

  it('compute the past anew before the next samples when they say so, once, and take it back likewise', async () => {
    const store = await storeWith();
    await take(store, 'loader-1');
    expect(await idles(store, 'loader-1')).toEqual([[thirdIdleS, 'built-in-1']]);
    const { id } = await promote(store, { isRecomputed: true });
    // Another process takes the machine's next samples.
    const later = recordingOf([off(600)], { machineId: 'loader-1', startMs: firstMs + 16_000_000 });
    const ingest = createIngest({ store: await reopened(store), thresholds: builtInThresholds, logger: quiet });
    await ingest.accept([later], { isRecorded: true });
    await ingest.close();
    expect(await idles(store, 'loader-1')).toEqual([
      [firstIdleS, 'strict'],
      [secondIdleS, 'strict'],
      [thirdIdleS, 'strict'],
    ]);
    expect(await store.recomputedUpTo('loader-1')).toBe(id);
    expect((await store.listPromotions()).at(-1)).toMatchObject({ id, isRecomputed: true, recomputedMachines: 1 });

    await promote(store, { version: null, isRecomputed: true });
    const last = recordingOf([off(600)], { machineId: 'loader-1', startMs: firstMs + 17_000_000 });
    const again = createIngest({ store: await reopened(store), thresholds: builtInThresholds, logger: quiet });
    await again.accept([last], { isRecorded: true });
    await again.close();
    expect(await idles(store, 'loader-1')).toEqual([[thirdIdleS, 'built-in-1']]);
  });

  it('keeps sets for good, approves by others only, and lists what was done', async () => {
    const store = await storeWith();
    const mine = {
      set: { ...strict, version: 'mine' },
      author: 'ada',
      reason: 'why',
      trialId: 't-1',
      needsApproval: true,
    };
    expect(await store.addThresholdSet(mine)).toBe(true);
    expect(await store.addThresholdSet({ ...mine, reason: 'other' })).toBe(false);
    expect(await store.approveThresholdSet('mine', 'ada')).toBe('own-set');
    expect(await store.approveThresholdSet('none', 'bo')).toBe('unknown');
    expect(await store.approveThresholdSet('mine', 'bo')).toBe('approved');
    expect(await store.getThresholdSet('mine')).toMatchObject({ ...mine, approvedBy: 'bo' });
    expect((await store.listThresholdSets()).map(({ set }) => set.version)).toEqual(['mine', 'strict']);
    await store.addTrial({ trialId: 't-1', title: 'a trial', author: 'ada', document: '{"a":1}' });
    await store.addTrial({ trialId: 't-1', title: 'again', author: 'bo', document: '{}' });
    expect(await store.getTrial('t-1')).toMatchObject({ title: 'a trial', document: '{"a":1}' });
    expect(await store.listTrials()).toHaveLength(1);
    await expect(promote(store, { version: 'unheard-of' })).rejects.toThrow();
  });
});

/** The same database through a store of its own, as another process has it. */
async function reopened(store: Store): Promise<Store> {
  return server.openOn(urls.get(store) as string);
}
