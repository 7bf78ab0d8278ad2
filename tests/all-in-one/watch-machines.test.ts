import { setTimeout as sleep } from 'node:timers/promises';
import { createEventHub, type HubEvent } from '@warmbrick/alerts-api';
import { builtInThresholds } from '@warmbrick/analysis';
import { createIngest } from '@warmbrick/ingest';
import { createLogger } from '@warmbrick/runtime';
import { defaultProfile, type SampleBlock } from '@warmbrick/signals';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { watchMachines } from '../../services/all-in-one/src/watch-machines.js';
import { startTestServer, type TestServer } from '../store/postgres.js';

let server: TestServer;
beforeAll(async () => {
  server = await startTestServer();
});
afterAll(() => server.stop());

const startMs = Date.UTC(2026, 2, 2, 6);

/** Minutes of work from a minute on. */
function minutes(machineId: string, from: number, count: number): SampleBlock {
  const length = count * 60;
  const column = (value: number) => new Float32Array(length).fill(value);
  return {
    machineId,
    timeMs: Float64Array.from({ length }, (_, k) => startMs + (from * 60 + k) * 1000),
    channels: { engineSpeedRpm: column(950), engineLoadPct: column(10), exhaustTempC: column(120) },
  };
}

it('tells listeners of what other processes commit, and reads nothing while there are none', async () => {
  const url = await server.freshDatabase();
  const writing = await server.openOn(url);
  const reading = await server.openOn(url);
  const ingest = createIngest({
    store: writing,
    thresholds: builtInThresholds,
    logger: { info() {}, warn() {}, error() {} },
  });
  for (const machineId of ['m', 'n']) {
    await ingest.register(machineId, defaultProfile);
    await ingest.accept([minutes(machineId, 0, 5)], { isRecorded: true });
  }
  let looks = 0;
  const store: typeof reading = {
    ...reading,
    machineClocks: () => {
      looks++;
      return reading.machineClocks();
    },
  };
  const events = createEventHub();
  const watch = watchMachines({ store, events, logger: createLogger({ name: 'test', level: 'silent' }), everyMs: 20 });
  await sleep(100);
  expect(looks).toBe(0);

  const heard: HubEvent[] = [];
  events.listen((event) => heard.push(event));
  while (looks < 2) await sleep(10);
  expect(heard).toEqual([]);
  // An hour of idling: its streak is a finding.
  await ingest.accept([minutes('m', 5, 61)], { isRecorded: true });
  for (const endMs = Date.now() + 10_000; heard.length < 2 && Date.now() < endMs; ) await sleep(20);
  await watch.stop();
  await ingest.close();
  expect(new Set(heard.map(({ machineId }) => machineId))).toEqual(new Set(['m']));
  expect(heard.at(-1)).toMatchObject({ name: 'machine' });
  expect(JSON.parse(heard.at(-1)?.data ?? '')).toMatchObject({ lastSampleAt: '2026-03-02T07:05:59.000Z' });
  const kinds = heard.filter(({ name }) => name === 'finding').map(({ data }) => JSON.parse(data).kind);
  expect(kinds).toContain('idle-streak');
});
