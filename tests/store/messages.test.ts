/** Fault reports, rejected messages, and cursors of several partitions. */

import type { FaultReport } from '@warmbrick/signals';
import type { RejectedMessage, Store } from '@warmbrick/store';
import { afterAll, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { changeOf, findingAt, hourStartMs, summaryOf } from './blocks.js';
import { startTestServer, type TestServer } from './postgres.js';

let server: TestServer;
let store: Store;

beforeAll(async () => {
  server = await startTestServer();
});
afterAll(() => server.stop());
beforeEach(async () => {
  store = await server.openOn(await server.freshDatabase());
});

function reportAt(timeMs: number, more: Partial<FaultReport> = {}): FaultReport {
  return {
    machineId: 'm',
    timeMs,
    sourceAddress: 61,
    kind: 'active',
    lamps: { malfunction: 'on', redStop: 'off', amberWarning: 'on', protect: 'unavailable' },
    flash: 255,
    // Source: SAE J1939-73 lists SPN 4364 as SCR conversion efficiency (from memory); any code would do.
    codes: [{ spn: 4364, fmi: 18, occurrenceCount: null, conversionMethod: 0 }],
    ...more,
  };
}

describe('fault reports', () => {
  it('are kept of a machine that sent no samples yet, which is in no list', async () => {
    await store.commit([changeOf('m', { faults: [reportAt(1)], summary: null, snapshot: null })]);
    expect((await store.listFaults({ machineId: 'm', limit: 10 })).items).toEqual([reportAt(1)]);
    expect(await store.getMachine('m')).toBeNull();
    expect(await store.loadSnapshot('m')).toBeNull();
    expect((await store.listMachines({ sort: 'risk', limit: 10 })).items).toEqual([]);
    await store.commit([changeOf('m', { summary: summaryOf('m', hourStartMs, 77) })]);
    const seen = await store.getMachine('m');
    expect(seen?.summary.score?.value).toBe(77);
    // Fault codes alone leave the machine as it stands.
    await store.commit([changeOf('m', { faults: [reportAt(2)], summary: null, snapshot: null })]);
    expect(await store.getMachine('m')).toEqual(seen);
    expect((await store.listMachines({ sort: 'risk', limit: 10 })).items).toEqual([seen]);
  });

  it('come once however often they are sent, and two that differ both stay', async () => {
    const other = reportAt(5, { flash: 0 });
    await store.commit([changeOf('m', { faults: [reportAt(5), other, reportAt(5)] })]);
    await store.commit([changeOf('m', { faults: [other, reportAt(5)] })]);
    const { items } = await store.listFaults({ machineId: 'm', limit: 10 });
    expect(items).toHaveLength(2);
    expect(items).toEqual(expect.arrayContaining([reportAt(5), other]));
  });

  it('are paged by time in both directions, within a range', async () => {
    const reports = Array.from({ length: 25 }, (_, i) => reportAt(Math.floor(i / 2), { sourceAddress: i }));
    await store.commit([
      changeOf('m', { faults: reports }),
      changeOf('n', { faults: [reportAt(3, { machineId: 'n' })] }),
    ]);
    for (const first of ['oldest', 'newest'] as const) {
      const found: FaultReport[] = [];
      for (let cursor: string | null | undefined; cursor !== null; ) {
        const page: Awaited<ReturnType<Store['listFaults']>> = await store.listFaults({
          machineId: 'm',
          limit: 4,
          cursor,
          first,
          fromMs: 2,
          toMs: 11,
        });
        found.push(...page.items);
        cursor = page.nextCursor;
      }
      const expected = reports.filter(({ timeMs }) => timeMs >= 2 && timeMs < 11);
      expect(found).toEqual(first === 'oldest' ? expected : expected.reverse());
    }
    const page = await store.listFaults({ machineId: 'm', limit: 4 });
    const turned = store.listFaults({ machineId: 'm', limit: 4, first: 'oldest', cursor: page.nextCursor ?? '' });
    await expect(turned).rejects.toMatchObject({ code: 'bad-cursor' });
  });
});

function rejectAt(offset: number, more: Partial<RejectedMessage> = {}): RejectedMessage {
  const payload = Buffer.from('{"not":"a sample');
  return {
    source: 's',
    partition: 0,
    offset,
    reason: 'bad-json',
    detail: 'ends early',
    key: 'm',
    payload,
    atMs: 10,
    ...more,
  };
}

describe('rejects', () => {
  it('come with their cursor or not at all, and once', async () => {
    const { epoch } = await store.claim('s', 0);
    const cursor = { source: 's', partition: 0, epoch, nextOffset: 2 };
    const rejects = [rejectAt(0), rejectAt(1, { reason: 'bad-time', key: null })];
    await store.commit([], { cursors: [cursor], rejects });
    await store.commit([], { cursors: [cursor], rejects: [...rejects, rejectAt(1, { detail: 'seen again' })] });
    const fenced = store.commit([], { cursors: [{ ...cursor, epoch: epoch - 1 }], rejects: [rejectAt(9)] });
    await expect(fenced).rejects.toMatchObject({ code: 'fenced' });
    const { items } = await store.listRejects({ limit: 10 });
    expect(items.map(({ payload, ...rest }) => ({ ...rest, payload: Buffer.from(payload).toString() }))).toEqual(
      rejects.map(({ payload, ...rest }) => ({
        ...rest,
        payload: Buffer.from(payload).toString(),
        payloadBytes: payload.length,
        isTruncated: false,
      })),
    );
  });

  it('keep 64 KiB of a payload, and any bytes and characters', async () => {
    const every = Uint8Array.from({ length: 256 }, (_, i) => i);
    const long = new Uint8Array(70_000).fill(7);
    const odd = rejectAt(2, { payload: every, key: 'a\u0000b', detail: `\u0000${'x'.repeat(5000)}` });
    await store.commit([], {
      rejects: [rejectAt(1, { payload: long }), odd, rejectAt(3, { payload: new Uint8Array() })],
    });
    const { items } = await store.listRejects({ limit: 10 });
    expect(items.map((it) => [it.payload.length, it.payloadBytes, it.isTruncated])).toEqual([
      [65_536, 70_000, true],
      [256, 256, false],
      [0, 0, false],
    ]);
    expect([...(items[1]?.payload ?? [])]).toEqual([...every]);
    expect(items[1]).toMatchObject({ key: 'a\ufffdb' });
    expect(items[1]?.detail).toHaveLength(1000);
  });

  it('are paged latest first, by source and time', async () => {
    const rejects = Array.from({ length: 20 }, (_, i) => rejectAt(i, { atMs: Math.floor(i / 3), partition: i % 2 }));
    await store.commit([], { rejects: [...rejects, rejectAt(5, { source: 't' })] });
    const found: number[] = [];
    for (let cursor: string | null | undefined; cursor !== null; ) {
      const page: Awaited<ReturnType<Store['listRejects']>> = await store.listRejects({
        limit: 3,
        cursor,
        source: 's',
        fromMs: 1,
        toMs: 6,
      });
      found.push(...page.items.map((it) => it.offset));
      cursor = page.nextCursor;
    }
    const expected = rejects
      .filter(({ atMs }) => atMs >= 1 && atMs < 6)
      .sort((a, b) => b.atMs - a.atMs || a.partition - b.partition || a.offset - b.offset);
    expect(found).toEqual(expected.map((it) => it.offset));
  });
});

describe('a commit of several partitions', () => {
  it('moves all cursors or none, whatever order they are given in', async () => {
    const claims = await Promise.all([0, 1, 2].map((partition) => store.claim('k', partition)));
    const moves = claims.map(({ epoch }, partition) => ({ source: 'k', partition, epoch, nextOffset: 10 + partition }));
    const findings = [findingAt('m', hourStartMs)];
    await store.claim('k', 1);
    const stale = store.commit([changeOf('m', { findings })], { cursors: moves });
    await expect(stale).rejects.toMatchObject({ code: 'fenced' });
    expect(await store.getMachine('m')).toBeNull();
    expect((await store.claim('k', 0)).nextOffset).toBe(0);

    const again = await Promise.all(
      [2, 0, 1].map(async (partition) => ({ partition, ...(await store.claim('k', partition)) })),
    );
    const cursors = again.map(({ partition, epoch }) => ({
      source: 'k',
      partition,
      epoch,
      nextOffset: 10 + partition,
    }));
    await store.commit([changeOf('m', { findings })], { cursors });
    const now = await Promise.all([0, 1, 2].map((partition) => store.claim('k', partition)));
    expect(now.map(({ nextOffset }) => nextOffset)).toEqual([10, 11, 12]);
    await expect(store.commit([], { cursors: [...cursors, ...cursors] })).rejects.toThrow('two cursors of k/');
  });

  it('does not lock up with another that has the same partitions the other way round', async () => {
    const claims = await Promise.all([0, 1].map((partition) => store.claim('k', partition)));
    const moves = claims.map(({ epoch }, partition) => ({ source: 'k', partition, epoch, nextOffset: 1 }));
    const [a, b] = moves as [(typeof moves)[0], (typeof moves)[0]];
    const commits = Array.from({ length: 20 }, (_, i) => store.commit([], { cursors: i % 2 === 0 ? [a, b] : [b, a] }));
    await expect(Promise.all(commits)).resolves.toHaveLength(20);
  });
});
