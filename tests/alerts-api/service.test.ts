import { builtInThresholds } from '@warmbrick/analysis';
import { defBatchListSchema, machineServiceSchema, shiftListSchema } from '@warmbrick/contracts';
import { createIngest } from '@warmbrick/ingest';
import { machineProfileSchema, type SampleBlock } from '@warmbrick/signals';
import type { Store } from '@warmbrick/store';
import { afterAll, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { startTestServer, type TestServer } from '../store/postgres.js';
import { startTestApp, type TestApp } from './test-app.js';

let server: TestServer;
let store: Store;
let app: TestApp['app'];

const shiftStartMs = Date.UTC(2026, 10, 24, 6);
const silent = { info() {}, warn() {}, error() {} };

/** Two hours: a start, work, and a stop without any cool-down; a fill in between. */
function morning(): SampleBlock {
  const seconds = 7200;
  const timeMs = Float64Array.from({ length: seconds }, (_, k) => shiftStartMs + 1_800_000 + k * 1000);
  const column = (at: (k: number) => number) => Float32Array.from({ length: seconds }, (_, k) => at(k));
  return {
    machineId: 'm',
    timeMs,
    channels: {
      engineSpeedRpm: column((k) => (k < 10 || k > 7000 ? 0 : k < 600 ? 950 : 1700)),
      engineLoadPct: column((k) => (k < 10 || k > 7000 ? 0 : k < 600 ? 10 : 70)),
      exhaustTempC: column((k) => (k < 600 ? 150 : 400)),
      defLevelPct: column((k) => (k < 3000 ? 40 : 90)),
      engineHours: Float64Array.from({ length: seconds }, (_, k) => 4000 + k / 3600),
    },
  };
}

beforeAll(async () => {
  server = await startTestServer();
});
afterAll(() => server.stop());
beforeEach(async () => {
  store = await server.openOn(await server.freshDatabase());
  ({ app } = await startTestApp({ store }));
  const ingest = createIngest({ store, thresholds: builtInThresholds, logger: silent });
  await ingest.register('m', machineProfileSchema.parse({ name: 'Loader', timeZone: 'UTC' }));
  await ingest.accept([morning()], { isRecorded: true });
  await ingest.close();
  return () => app.close();
});

const send = async (method: 'GET' | 'POST' | 'PUT' | 'DELETE', url: string, body?: object) => {
  const response = await app.inject({ method, url: `/v1${url}`, ...(body === undefined ? {} : { payload: body }) });
  return { status: response.statusCode, body: response.body === '' ? null : response.json() };
};

describe('service', () => {
  it('says what is due from what was done and the hour meter', async () => {
    const before = machineServiceSchema.parse((await send('GET', '/machines/m/service')).body);
    expect(before.due.every(({ state }) => state === 'never-recorded')).toBe(true);
    expect(before.engineHours?.value).toBeCloseTo(4002, 1);
    const made = await send('POST', '/machines/m/service', {
      item: 'engine-oil',
      at: '2026-11-01T08:00:00Z',
      engineHours: 3550,
      by: 'Aud',
    });
    expect(made).toMatchObject({ status: 201, body: { recordedBy: 'Aud', item: 'engine-oil' } });
    const after = machineServiceSchema.parse((await send('GET', '/machines/m/service')).body);
    const oil = after.due.find(({ item }) => item === 'engine-oil');
    expect(oil).toMatchObject({ usedHours: 452, usedBasis: 'hour-meter', hoursLeft: 48, state: 'soon' });
    expect((await send('DELETE', `/machines/m/service/${made.body.id}`)).status).toBe(204);
    expect((await send('DELETE', `/machines/m/service/${made.body.id}`)).body.code).toBe('record-not-found');
    expect(machineServiceSchema.parse((await send('GET', '/machines/m/service')).body).records).toEqual([]);
  });

  it('takes many records once, and leaves out machines that it does not know', async () => {
    const records = [
      { machineId: 'm', item: 'engine-oil', at: '2026-10-01T08:00:00Z', engineHours: 3500 },
      { machineId: 'm', item: 'fuel-filter', at: '2026-10-01T08:00:00Z' },
      { machineId: 'nobody', item: 'engine-oil', at: '2026-10-01T08:00:00Z' },
    ];
    expect((await send('POST', '/service-records', records)).body).toEqual({ written: 2, known: 1 });
    expect((await send('POST', '/service-records', records)).body).toEqual({ written: 0, known: 3 });
  });

  it('takes a CSV, and says what is wrong with one', async () => {
    const post = async (payload: string) => {
      const headers = { 'content-type': 'text/csv' };
      const response = await app.inject({ method: 'POST', url: '/v1/service-records', headers, payload });
      return { status: response.statusCode, body: response.json() };
    };
    const good =
      'machineId;item;at;engineHours;note\r\nm;engine-oil;2026-10-01T08:00:00Z;3500;"with; filter"\r\nm;def-filter;2026-10-02T08:00:00Z;;\r\n';
    expect((await post(good)).body).toEqual({ written: 2, known: 0 });
    const [newest, oldest] = machineServiceSchema.parse((await send('GET', '/machines/m/service')).body).records;
    expect(newest).toMatchObject({ item: 'def-filter', engineHours: null });
    expect(oldest).toMatchObject({ item: 'engine-oil', engineHours: 3500, note: 'with; filter' });
    for (const [text, words] of [
      ['machineId,item\nm,engine-oil\n', 'Missing columns: at'],
      ['machineId,item,at,price\n', 'Unknown columns: price'],
      ['machineId,item,at\nm,engine-oil,"2026\n', 'Quote'],
      ['machineId,item,at,engineHours\nm,engine-oil,2026-10-01T08:00:00Z,many\n', 'engineHours'],
    ] as const) {
      const answer = await post(text);
      expect(answer.status).toBe(400);
      expect(JSON.stringify(answer.body)).toContain(words);
    }
  });

  it('refuses work of the future and unknown names', async () => {
    const future = await send('POST', '/machines/m/service', { item: 'engine-oil', at: '2999-01-01T00:00:00Z' });
    expect(future).toMatchObject({ status: 400, body: { errors: [{ path: 'body.at' }] } });
    expect((await send('POST', '/machines/m/service', { item: 'Engine Oil', at: '2026-01-01T00:00:00Z' })).status).toBe(
      400,
    );
    expect((await send('POST', '/machines/none/service', { item: 'a', at: '2026-01-01T00:00:00Z' })).status).toBe(404);
  });
});

describe('stored DEF', () => {
  it('is listed with what is left of its life, and corrected', async () => {
    const batch = { name: 'Tank 2', purchasedOn: '2020-01-01', storageTempC: 20, quantityL: 1000 };
    const { status, body } = await send('POST', '/def-stock', batch);
    expect(status).toBe(201);
    expect(body).toMatchObject({ state: 'past', leftL: 1000, purchasedOn: '2020-01-01' });
    expect((await send('PUT', `/def-stock/${body.id}`, { ...batch, leftL: 200 })).body.leftL).toBe(200);
    expect((await send('PUT', `/def-stock/${body.id}`, { ...batch, leftL: 2000 })).status).toBe(400);
    expect(defBatchListSchema.parse((await send('GET', '/def-stock')).body).items).toHaveLength(1);
    expect((await send('DELETE', `/def-stock/${body.id}`)).status).toBe(204);
    expect((await send('PUT', `/def-stock/${body.id}`, batch)).status).toBe(404);
  });
});

describe('shifts', () => {
  const shifts = async () => shiftListSchema.parse((await send('GET', '/machines/m/shifts')).body);
  const tick = (body: object) => send('POST', '/machines/m/shifts/2026-11-24T06:00:00Z/inspection', body);

  it('show starts, stops, fills and the level at the end', async () => {
    const { items, cooldownWantedS } = await shifts();
    expect(cooldownWantedS).toBe(300);
    const shift = items.find(({ startedAt }) => startedAt === '2026-11-24T06:00:00.000Z');
    expect(shift).toMatchObject({ name: 'day', isOver: false, defLevelEndPct: 90, inspection: null });
    expect(shift?.starts).toHaveLength(1);
    expect(shift?.stops).toMatchObject([{ grade: 'hot' }]);
    expect(shift?.fills).toMatchObject([{ levelAfterPct: 90 }]);
    expect(shift?.residency.runningS).toBeGreaterThan(6900);
  });

  it('keep what was ticked with who and when, and every earlier version', async () => {
    const first = await tick({ by: 'Aud', ticks: { 'def-strainer': 'in-order' }, basedOn: 0 });
    expect(first).toMatchObject({ status: 201, body: { version: 1, by: 'Aud', ticks: { 'end-of-shift': null } } });
    const behind = await tick({ by: 'Per', ticks: {}, basedOn: 0 });
    expect(behind).toMatchObject({ status: 409, body: { code: 'edited-meanwhile' } });
    const second = await tick({ by: 'Per', ticks: { 'def-strainer': 'not-in-order' }, note: 'torn', basedOn: 1 });
    expect(second.status).toBe(201);
    const shift = (await shifts()).items.find(({ inspection }) => inspection !== null);
    expect(shift?.inspection).toMatchObject({
      version: 2,
      by: 'Per',
      note: 'torn',
      ticks: { 'def-strainer': 'not-in-order' },
    });
    expect(shift?.inspectionHistory.map(({ by }) => by)).toEqual(['Aud', 'Per']);
  });

  it('are only those of the calendar', async () => {
    const answer = await send('POST', '/machines/m/shifts/2026-11-24T06:30:00Z/inspection', {
      by: 'Aud',
      ticks: {},
      basedOn: 0,
    });
    expect(answer.body.code).toBe('shift-not-found');
  });
});
