import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest';
import { cutToFleets } from '../../services/alerts-api/src/events/cut-to-fleets.js';
import type { HubEvent } from '../../services/alerts-api/src/events/event-hub.js';
import { type ApiWorld, asKey, startApiWorld, worldStartMs } from './api-world.js';
import { changeOf, finding } from './fleet.js';

let world: ApiWorld;
let address: string;
const aborts: AbortController[] = [];
beforeAll(async () => {
  world = await startApiWorld({ limits: { heartbeatMs: 100 } });
  address = await world.app.listen({ port: 0, host: '127.0.0.1' });
});
afterAll(async () => {
  for (const abort of aborts) abort.abort();
  await world.stop();
});

interface Heard {
  text: string;
  isOver: boolean;
  machines(): string[];
  ids(): string[];
}

async function listen(key: string, lastEventId?: string): Promise<Heard> {
  const abort = new AbortController();
  aborts.push(abort);
  const headers = { ...asKey(world.keys[key]), ...(lastEventId === undefined ? {} : { 'last-event-id': lastEventId }) };
  const response = await fetch(`${address}/v1/stream`, { headers, signal: abort.signal });
  expect(response.status).toBe(200);
  const heard: Heard = {
    text: '',
    isOver: false,
    machines: () => [...heard.text.matchAll(/"machineId":"([^"]+)"/g)].map(([, id = '']) => id),
    ids: () => [...heard.text.matchAll(/^id: (.+)$/gm)].map(([, id = '']) => id),
  };
  const read = async () => {
    const decoder = new TextDecoder();
    for await (const part of response.body ?? []) heard.text += decoder.decode(part as Uint8Array, { stream: true });
    heard.isOver = true;
  };
  read().catch(() => {});
  await vi.waitFor(() => expect(heard.text).toContain('retry:'));
  return heard;
}

function publish(machineId: string, n: number): void {
  const change = changeOf({ machineId, fromMs: worldStartMs, toMs: worldStartMs + n * 1000 });
  world.events.publishChange({ ...change, findings: [finding(machineId, worldStartMs + n)] });
}

describe('the stream of a key for some fleets', () => {
  it('has the events of their machines in order, and nothing of the others, also of what was missed', async () => {
    const [north, all] = await Promise.all([listen('north-viewer'), listen('viewer')]);
    for (let n = 1; n <= 5; n++) for (const fleet of ['north', 'south']) publish(`${fleet}-1`, n);
    await vi.waitFor(() => expect(all.machines()).toHaveLength(20));
    await vi.waitFor(() => expect(north.machines()).toHaveLength(10));
    expect(new Set(north.machines())).toEqual(new Set(['north-1']));
    const numbers = north.ids().map((id) => Number(id.split('-')[1]));
    expect(numbers).toEqual([...numbers].sort((a, b) => a - b));

    const missedFrom = north.ids().at(-5) ?? '';
    const again = await listen('north-viewer', missedFrom);
    await vi.waitFor(() => expect(again.machines()).toHaveLength(4));
    expect(again.ids()).toEqual(north.ids().slice(-4));
    expect((await listen('south-viewer', missedFrom)).text).not.toContain('north-1');
  });

  it('follows a machine that moves', async () => {
    const north = await listen('north-viewer');
    await world.store.moveMachine('north-1', 'south');
    // For a moment a machine may still be counted to where it was.
    await vi.waitFor(
      async () => {
        const before = north.machines().length;
        publish('north-1', 50);
        await new Promise((resolve) => setTimeout(resolve, 150));
        expect(north.machines().length).toBe(before);
      },
      { timeout: 10_000, interval: 300 },
    );
    await world.store.moveMachine('north-1', 'north');
  });

  it('ends when the key is revoked', async () => {
    const south = await listen('south-viewer');
    const keyId = (world.keys['south-viewer'] ?? '').slice(4, 16);
    const gone = await world.app.inject({
      method: 'DELETE',
      url: `/v1/keys/${keyId}`,
      headers: asKey(world.keys.admin),
    });
    expect(gone.statusCode).toBe(200);
    await vi.waitFor(() => expect(south.isOver).toBe(true));
  });
});

describe('cutting events to fleets', () => {
  const event = (n: number): HubEvent => ({ id: `h-${n}`, name: 'machine', machineId: `m${n % 2}`, data: '{}' });

  it('keeps a bounded number waiting, and says when some were lost', async () => {
    let answer: (fleets: Map<string, string>) => void = () => {};
    const delivered: string[] = [];
    let losses = 0;
    const listener = cutToFleets({
      fleets: ['a'],
      index: {
        fleetsOf: () =>
          new Promise((resolve) => {
            answer = resolve;
          }),
      },
      deliver: ({ id }) => delivered.push(id),
      onLost: () => losses++,
    });
    for (let n = 0; n < 20_000; n++) listener(event(n));
    expect(losses).toBeGreaterThan(0);
    answer(
      new Map([
        ['m0', 'a'],
        ['m1', 'b'],
      ]),
    );
    await vi.waitFor(() => expect(delivered).toEqual(['h-0']));
  });

  it('says so when the fleets cannot be looked up', async () => {
    let losses = 0;
    const listener = cutToFleets({
      fleets: ['a'],
      index: { fleetsOf: () => Promise.reject(new Error('away')) },
      deliver: () => {},
      onLost: () => losses++,
    });
    listener(event(0));
    await vi.waitFor(() => expect(losses).toBe(1));
  });
});
