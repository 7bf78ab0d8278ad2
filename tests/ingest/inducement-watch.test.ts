/** The inducement clock from reports and samples to findings and alerts, on a real PostgreSQL. */

import { setTimeout as sleep } from 'node:timers/promises';
import { builtInThresholds, unknownLamps } from '@warmbrick/analysis';
import { createIngest, startInducementWatch } from '@warmbrick/ingest';
import { defaultProfile, type FaultReport, type SampleBlock } from '@warmbrick/signals';
import { openStore, type Store } from '@warmbrick/store';
import { afterAll, beforeAll, beforeEach, expect, it } from 'vitest';
import { startTestServer, type TestServer } from '../store/postgres.js';

const hourMs = 3_600_000;
const startMs = Date.UTC(2026, 10, 24, 6);
const silent = { info() {}, warn() {}, error() {} };
let server: TestServer;
let store: Store;
let nowMs = startMs;

beforeAll(async () => {
  server = await startTestServer();
});
afterAll(() => server.stop());
beforeEach(async () => {
  const connectionString = await server.freshDatabase();
  store = await openStore({ connectionString, alerting: { now: () => nowMs, outbox: false } });
  return () => store.close();
});

/** The engine works from one hour to another; the counter runs along, or is not sent. */
function hours(fromH: number, toH: number, hasCounter: boolean): SampleBlock {
  const count = Math.round((toH - fromH) * 360);
  const timeMs = Float64Array.from({ length: count }, (_, k) => startMs + fromH * hourMs + k * 10_000);
  const column = (value: number) => new Float32Array(count).fill(value);
  const counter = Float64Array.from(timeMs, (at) => 4000 + Math.round(((at - startMs) / hourMs) * 20) / 20);
  return {
    machineId: 'm',
    timeMs,
    channels: {
      engineSpeedRpm: column(1700),
      engineLoadPct: column(60),
      exhaustTempC: column(390),
      ...(hasCounter ? { engineHours: counter } : {}),
    },
  };
}

/** A list of the controller: with dosing interrupted (SPN 5394 FMI 5), or without any code. */
function list(atH: number, isFaulty: boolean): FaultReport {
  return {
    ...{ machineId: 'm', timeMs: startMs + atH * hourMs, sourceAddress: 0, kind: 'active', lamps: unknownLamps },
    ...{ flash: 255, codes: isFaulty ? [{ spn: 5394, fmi: 5, occurrenceCount: 1, conversionMethod: 0 }] : [] },
  } as FaultReport;
}

async function feed(blocks: readonly SampleBlock[], reports: readonly FaultReport[]): Promise<void> {
  const ingest = createIngest({ store, thresholds: builtInThresholds, logger: silent, now: () => nowMs });
  await ingest.register('m', defaultProfile);
  await ingest.accept(blocks, { reports });
  await ingest.close();
}

/** One round and a bit; two processes at once. */
async function look(holds: () => Promise<boolean>): Promise<void> {
  const watches = [0, 1].map(() => startInducementWatch({ store, logger: silent, now: () => nowMs, everyMs: 50 }));
  for (const endMs = Date.now() + 10_000; !(await holds()); await sleep(20)) {
    if (Date.now() > endMs) throw new Error('the watch has not seen it within 10 s');
  }
  await Promise.all(watches.map((watch) => watch.stop()));
}
const steps = async () => (await store.listFindings({ machineId: 'm', limit: 50, kinds: ['inducement-step'] })).items;
const hoursLeft = async () => (await steps())[0]?.values.hoursLeft;

it.each([
  ['by the counter', true],
  ['by the running that was seen', false],
])('counts engine hours %s, pages near the step, and ends with the fault', async (_, hasCounter) => {
  nowMs = startMs + hourMs;
  await feed([hours(0, 1, hasCounter)], [list(0, false), list(0.5, true)]);
  await look(async () => (await steps()).length > 0);
  // Dosing interrupted: power is taken after 10 h. Source: Reg. (EU) 2017/654 Annex IV appendix 1, from memory.
  expect(await steps()).toMatchObject([{ endedMs: null, severity: 'notice', values: { schedule: 'eu-stage-v' } }]);
  expect(Math.abs(Number(await hoursLeft()) - 9.5)).toBeLessThanOrEqual(0.1);
  const alertsOpen = async () =>
    (await store.listAlerts({ limit: 50 })).items.filter((alert) => alert.ruleId === 'inducement-step-near');
  expect(await alertsOpen()).toEqual([]);

  // Twelve hours later; it stood for six of them.
  nowMs = startMs + 13 * hourMs;
  await feed([hours(7, 13, hasCounter)], [list(13, true)]);
  const wanted = hasCounter ? -2.5 : 3.5;
  await look(async () => (await hoursLeft()) !== 9.5 && (await alertsOpen()).length > 0);
  expect(await steps()).toHaveLength(1);
  if (wanted > 0) expect(Math.abs(Number(await hoursLeft()) - wanted)).toBeLessThanOrEqual(0.2);
  expect(await alertsOpen()).toMatchObject([{ condition: 'active', isPast: false }]);

  nowMs = startMs + 14 * hourMs;
  await feed([hours(13, 14, hasCounter)], [list(13.5, false), list(13.9, false)]);
  await look(async () => (await steps())[0]?.endedMs !== null);
  expect(await alertsOpen()).toMatchObject([{ condition: 'clear' }]);
});

it('leaves a machine alone that was last heard of long ago', async () => {
  nowMs = startMs + 100 * hourMs;
  await feed([hours(0, 1, true)], [list(0.5, true)]);
  let rounds = 0;
  const counted = {
    ...store,
    machinesWithActiveFaults: () => {
      rounds++;
      return store.machinesWithActiveFaults();
    },
  };
  const watch = startInducementWatch({ store: counted, logger: silent, now: () => nowMs, everyMs: 20 });
  while (rounds < 3) await sleep(20);
  await watch.stop();
  expect(await store.machinesWithActiveFaults()).toEqual(['m']);
  expect(await steps()).toEqual([]);
});
