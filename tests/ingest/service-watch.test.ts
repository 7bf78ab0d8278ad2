import { setTimeout as sleep } from 'node:timers/promises';
import { builtInThresholds } from '@warmbrick/analysis';
import { createIngest, startServiceWatch } from '@warmbrick/ingest';
import { defaultProfile, type SampleBlock } from '@warmbrick/signals';
import type { Store } from '@warmbrick/store';
import { afterAll, beforeAll, beforeEach, expect, it } from 'vitest';
import { startTestServer, type TestServer } from '../store/postgres.js';

const nowMs = Date.UTC(2026, 10, 25, 12);
const silent = { info() {}, warn() {}, error() {} };
let server: TestServer;
let store: Store;

beforeAll(async () => {
  server = await startTestServer();
});
afterAll(() => server.stop());
beforeEach(async () => {
  store = await server.openOn(await server.freshDatabase());
});

function anHour(atMs: number, engineHours: number): SampleBlock {
  const timeMs = Float64Array.from({ length: 360 }, (_, k) => atMs + k * 10_000);
  const column = (value: number) => new Float32Array(360).fill(value);
  return {
    machineId: 'm',
    timeMs,
    channels: {
      engineSpeedRpm: column(1700),
      engineLoadPct: column(60),
      exhaustTempC: column(390),
      engineHours: new Float64Array(360).fill(engineHours),
    },
  };
}

async function feed(...blocks: SampleBlock[]): Promise<void> {
  const ingest = createIngest({ store, thresholds: builtInThresholds, logger: silent, now: () => nowMs });
  await ingest.register('m', defaultProfile);
  for (const block of blocks) await ingest.accept([block]);
  await ingest.close();
}

/** Lets the watch look until something holds. */
async function look(holds: () => Promise<boolean>): Promise<void> {
  const watch = startServiceWatch({ store, logger: silent, now: () => nowMs });
  for (const endMs = Date.now() + 10_000; !(await holds()); await sleep(20)) {
    if (Date.now() > endMs) throw new Error('the watch has not seen it within 10 s');
  }
  await watch.stop();
}
const overdue = async () => (await store.listFindings({ machineId: 'm', limit: 50, kinds: ['service-overdue'] })).items;
const record = (id: string, item: string, atMs: number, engineHours: number) => ({
  ...{ id, machineId: 'm', item, atMs, engineHours },
  ...{ note: '', recordedBy: 'Aud', recordedMs: atMs },
});

it('finds overdue work, keeps it through late samples, and ends it when the work is done', async () => {
  await feed(anHour(nowMs - 7_200_000, 4600));
  await store.addServiceRecords([record('1', 'engine-oil', nowMs - 90 * 86_400_000, 4000)]);
  await look(async () => (await overdue()).length > 0);
  const [finding] = await overdue();
  expect(finding).toMatchObject({ endedMs: null, values: { item: 'engine-oil', dueBy: 'hours' } });

  // Samples of before rewind the machine to its beginning; what people wrote down stays.
  await feed(anHour(nowMs - 20_000_000, 4590));
  expect((await overdue()).map(({ id }) => id)).toEqual([finding?.id]);

  await store.addServiceRecords([record('2', 'engine-oil', nowMs - 3_600_000, 4600)]);
  await look(async () => (await overdue())[0]?.endedMs !== null);
  expect(await overdue()).toMatchObject([{ id: finding?.id, endedMs: nowMs - 3_600_000 }]);
});
