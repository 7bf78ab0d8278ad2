import { defaultProfile } from '@warmbrick/signals';
import type { Page, Store } from '@warmbrick/store';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { changeOf, findingAt, hourStartMs, summaryOf } from './blocks.js';
import { startTestServer, type TestServer } from './postgres.js';

let server: TestServer;
let store: Store;

/** Scores with ties, and two machines without a score. */
const scores: readonly (number | null)[] = [10, 55.5, null, 10, 99, 0, null, 10];
const idOf = (i: number) => `machine-${i}`;

beforeAll(async () => {
  server = await startTestServer();
  store = await server.openOn(await server.freshDatabase());
  for (const [i] of scores.entries()) {
    const profile = { ...defaultProfile, name: `${'hgfedcba'[i]} truck`.toUpperCase() };
    await store.putMachine(idOf(i), i % 2 === 0 ? { ...profile, site: 'Skarnfell quarry' } : profile);
  }
  await store.putMachine('never-seen', defaultProfile);
  const summary = (i: number) => summaryOf(idOf(i), hourStartMs, scores[i] as number | null);
  await store.commit(
    scores.map((_, i) => changeOf(idOf(i), { summary: summary(i) })),
    null,
  );
});
afterAll(() => server.stop());

async function walk<T>(read: (cursor?: string) => Promise<Page<T>>): Promise<T[]> {
  const all: T[] = [];
  let cursor: string | undefined;
  do {
    const page: Page<T> = await read(cursor);
    all.push(...page.items);
    cursor = page.nextCursor ?? undefined;
    expect(all.length).toBeLessThan(100);
  } while (cursor !== undefined);
  return all;
}

describe('pages of machines', () => {
  const byRisk = [4, 1, 0, 3, 7, 5, 2, 6].map(idOf);

  it.each([1, 2, 3, 7, 8, 9])('of %i by risk: falling score, no score last, ties by id, each once', async (limit) => {
    const machines = await walk((cursor) => store.listMachines({ limit, cursor, sort: 'risk' }));
    expect(machines.map((machine) => machine.machineId)).toEqual(byRisk);
  });

  it.each([1, 3, 8])('of %i by name: in order of names whatever their case, each once', async (limit) => {
    const machines = await walk((cursor) => store.listMachines({ limit, cursor, sort: 'name' }));
    expect(machines.map((machine) => machine.machineId)).toEqual([7, 6, 5, 4, 3, 2, 1, 0].map(idOf));
  });

  it('of one site hold its machines only', async () => {
    const page = { limit: 2, sort: 'risk', site: 'Skarnfell quarry' } as const;
    const machines = await walk((cursor) => store.listMachines({ ...page, cursor }));
    expect(machines.map((machine) => machine.machineId)).toEqual([4, 0, 2, 6].map(idOf));
  });

  it('leave out a machine that was never seen, whose profile is there all the same', async () => {
    expect(await store.getMachine('never-seen')).toBeNull();
    expect(await store.loadProfile('never-seen')).toEqual(defaultProfile);
    expect(await store.loadProfile('unheard-of')).toBeNull();
  });
});

describe('pages of findings', () => {
  const machineId = idOf(0);
  const starts = [5, 1, 3, 3.5, 2].map((hours) => hourStartMs + hours * 3_600_000);

  beforeAll(async () => {
    const findings = starts.map((started) => findingAt(machineId, started));
    const gap = findingAt(machineId, starts[0] as number, { id: `${machineId}~data-gap`, kind: 'data-gap' });
    await store.commit([changeOf(machineId, { findings: [...findings, gap] })], null);
  });

  it.each([1, 2, 4, 6])('of %i: newest first, each once', async (limit) => {
    const findings = await walk((cursor) => store.listFindings({ machineId, limit, cursor }));
    const hours = findings.map((finding) => (finding.startedMs - hourStartMs) / 3_600_000);
    expect(hours).toEqual([5, 5, 3.5, 3, 2, 1]);
  });

  it('hold those that started within the range and are of the kinds', async () => {
    const range = { machineId, limit: 10, fromMs: starts[2] as number, toMs: starts[0] as number };
    const hours = (await store.listFindings(range)).items.map((it) => (it.startedMs - hourStartMs) / 3_600_000);
    expect(hours).toEqual([3.5, 3]);
    expect((await store.listFindings({ machineId, limit: 10, kinds: ['data-gap'] })).items).toHaveLength(1);
    expect((await store.listFindings({ machineId, limit: 10, kinds: [] })).items).toEqual([]);
  });

  it('are counted by machine and kind, each machine within its own range', async () => {
    const whole = { machineId, fromMs: 0, toMs: 1e14 };
    const counts = await store.countFindings([whole, { ...whole, machineId: idOf(1) }]);
    expect(counts).toEqual(new Map([[machineId, { 'data-gap': 1, 'idle-streak': 5 }]]));
    const half = await store.countFindings([{ ...whole, fromMs: (starts[3] as number) - 0.5 }]);
    expect(half.get(machineId)).toEqual({ 'data-gap': 1, 'idle-streak': 2 });
  });
});

describe('a cursor that this list did not give out', () => {
  const made = (position: unknown) => Buffer.from(JSON.stringify(position)).toString('base64url');

  it.each([
    ['nothing at all', ''],
    ['no base64url', '%%%'],
    ['no JSON', Buffer.from('{').toString('base64url')],
    ['no object', made(null)],
    ['another list', made({ list: 'name', name: 'a', id: 'b' })],
    ['a wrong type', made({ list: 'risk', score: '1', id: 'b' })],
    ['a missing part', made({ list: 'risk', score: 1 })],
    ['a part too long', made({ list: 'risk', score: 1, id: 'x'.repeat(1000) })],
  ])('is refused: %s', async (_, cursor) => {
    const error = { code: 'bad-cursor', isRetriable: false };
    await expect(store.listMachines({ limit: 1, sort: 'risk', cursor })).rejects.toMatchObject(error);
    await expect(store.listFindings({ machineId: 'm', limit: 1, cursor })).rejects.toMatchObject(error);
  });
});
