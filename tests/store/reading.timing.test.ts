/** What a page waits for when it reads a machine's past. */

import type { Store } from '@warmbrick/store';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { changeOf, hourStartMs, noisyBlock, rowAt } from './blocks.js';
import { startTestServer, type TestServer } from './postgres.js';

let server: TestServer;
let store: Store;

beforeAll(async () => {
  server = await startTestServer();
  store = await server.openOn(await server.freshDatabase());
});
afterAll(() => server.stop());

/** Source: design, storage: a machine's month in under 100 ms. */
const wantedMs = 100;

describe('reading', () => {
  /** Middle of several measured times in ms. */
  async function middleMs(action: () => Promise<unknown>): Promise<number> {
    const times: number[] = [];
    for (let i = 0; i < 7; i++) {
      const startedAt = performance.now();
      await action();
      times.push(performance.now() - startedAt);
    }
    return times.sort((a, b) => a - b)[3] as number;
  }

  it('takes no longer than a page waits: a month of rows, a day of samples, a day of rows of 50 machines', async () => {
    const names = ['engineSpeedRpm', 'engineLoadPct', 'exhaustTempC', 'scrInletTempC', 'fuelRateLPerH'] as const;
    const quarter = (i: number) => ({ ...rowAt(hourStartMs + i * 900_000, 900), idleS: (i * 7919) % 900, lightS: 1.5 });
    const month = Array.from({ length: 31 * 96 }, (_, i) => quarter(i));
    const day = { ...noisyBlock(names, 86_400, 3), machineId: 'fast' };
    await store.commit([changeOf('fast', { rows: month, samples: [day] })]);
    const fleet = Array.from({ length: 50 }, (_, i) => `fleet-${i}`);
    await store.commit(fleet.map((id) => changeOf(id, { rows: month.slice(0, 96) })));
    const toMs = hourStartMs + 31 * 86_400_000;
    const found = await store.listRows(['fast'], hourStartMs, toMs);
    expect(found.get('fast')).toEqual(month);
    expect(await middleMs(() => store.listRows(['fast'], hourStartMs, toMs))).toBeLessThan(wantedMs);
    expect(await middleMs(() => store.listRows(fleet, hourStartMs, hourStartMs + 86_400_000))).toBeLessThan(wantedMs);
    const range = { machineId: 'fast', fromMs: hourStartMs, toMs: hourStartMs + 86_400_000 };
    expect((await store.readSamples(range)).reduce((sum, block) => sum + block.timeMs.length, 0)).toBe(86_400);
    expect(await middleMs(() => store.readSamples(range))).toBeLessThan(wantedMs);
  }, 60_000);
});
