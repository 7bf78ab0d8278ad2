import type { Store } from '@warmbrick/store';
import { afterAll, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { changeOf, findingAt, hourStartMs, steadyBlock } from './blocks.js';
import { runSql, startTestServer, type TestServer } from './postgres.js';

let server: TestServer;
let url: string;
let store: Store;
const place = { source: 'telemetry.samples.v1', partition: 3 };

beforeAll(async () => {
  server = await startTestServer();
});
afterAll(() => server.stop());
beforeEach(async () => {
  url = await server.freshDatabase();
  store = await server.openOn(url);
});

describe('a claim', () => {
  it('starts at offset 0, goes on where the last commit ended, and raises the epoch each time', async () => {
    expect(await store.claim(place.source, 3)).toEqual({ nextOffset: 0, epoch: 1 });
    await store.commit([], { ...place, epoch: 1, nextOffset: 2 ** 40 });
    expect(await store.claim(place.source, 3)).toEqual({ nextOffset: 2 ** 40, epoch: 2 });
    expect(await store.claim(place.source, 4)).toEqual({ nextOffset: 0, epoch: 1 });
  });

  it('gives each of many at once an epoch of its own', async () => {
    const claims = await Promise.all(Array.from({ length: 20 }, () => store.claim(place.source, 3)));
    expect(claims.map((claim) => claim.epoch).sort((a, b) => a - b)).toEqual(
      Array.from({ length: 20 }, (_, i) => i + 1),
    );
  });
});

describe('the fence', () => {
  const change = changeOf('m', {
    samples: [steadyBlock('m', hourStartMs, 60)],
    findings: [findingAt('m', hourStartMs)],
  });

  it('lets an old epoch write nothing at all', async () => {
    const old = await store.claim(place.source, 3);
    const next = await store.claim(place.source, 3);
    const late = store.commit([change], { ...place, epoch: old.epoch, nextOffset: 60 });
    await expect(late).rejects.toMatchObject({ code: 'fenced', isRetriable: false });
    for (const table of ['machine', 'sample_chunk', 'finding', 'analyzer_state']) {
      expect(await runSql(url, `SELECT * FROM ${table}`)).toEqual([]);
    }
    await store.commit([change], { ...place, epoch: next.epoch, nextOffset: 60 });
    expect(await store.getMachine('m')).not.toBeNull();
  });

  it('refuses a partition that was never claimed', async () => {
    const unclaimed = store.commit([change], { ...place, epoch: 1, nextOffset: 60 });
    await expect(unclaimed).rejects.toMatchObject({ code: 'fenced' });
  });

  it('refuses to go back', async () => {
    const { epoch } = await store.claim(place.source, 3);
    await store.commit([], { ...place, epoch, nextOffset: 60 });
    const back = store.commit([change], { ...place, epoch, nextOffset: 59 });
    await expect(back).rejects.toMatchObject({ code: 'cursor-moved-back' });
    expect(await store.getMachine('m')).toBeNull();
  });
});

describe('writers of the same machine from two sources', () => {
  it('lose none of their samples to each other', async () => {
    const owners = await Promise.all(['a', 'b'].map(async (source) => ({ source, ...(await store.claim(source, 0)) })));
    const send = async (owner: (typeof owners)[number], offset: number) => {
      for (let i = 0; i < 20; i++) {
        const samples = [steadyBlock('m', hourStartMs + (2 * i + offset) * 10_000, 10)];
        const cursor = { source: owner.source, partition: 0, epoch: owner.epoch, nextOffset: i + 1 };
        await store.commit([changeOf('m', { samples })], cursor);
      }
    };
    await Promise.all(owners.map(send));
    const blocks = await store.readSamples({ machineId: 'm', fromMs: hourStartMs, toMs: hourStartMs + 3_600_000 });
    expect(blocks.reduce((count, block) => count + block.timeMs.length, 0)).toBe(400);
  });

  it('do not lock each other out, whatever the order of their machines', async () => {
    const owners = await Promise.all(['a', 'b'].map(async (source) => ({ source, ...(await store.claim(source, 0)) })));
    const ids = Array.from({ length: 30 }, (_, i) => `m${i}`);
    const send = async (owner: (typeof owners)[number], order: readonly string[]) => {
      for (let i = 0; i < 15; i++) {
        const cursor = { source: owner.source, partition: 0, epoch: owner.epoch, nextOffset: i + 1 };
        await store.commit(
          order.map((id) => changeOf(id)),
          cursor,
        );
      }
    };
    const [first, second] = owners as [(typeof owners)[number], (typeof owners)[number]];
    await Promise.all([send(first, ids), send(second, [...ids].reverse())]);
    expect((await store.listMachines({ limit: 100, sort: 'name' })).items).toHaveLength(30);
  });
});
