import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { DuckDBInstance } from '@duckdb/node-api';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { toCsv } from '../../services/alerts-api/src/tables/to-csv.js';
import { type ApiWorld, asKey, startApiWorld, worldStartMs } from './api-world.js';
import { changeOf, seedMachine } from './fleet.js';

let world: ApiWorld;
let folder: string;
const profiles: string[] = [];
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'warmbrick-series-'));
  world = await startApiWorld({
    onProfile: async (machineId, profile) => void profiles.push(`${machineId} ${profile.baseIdleRpm}`),
  });
});
afterAll(async () => {
  await world.stop();
  await rm(folder, { recursive: true });
});

const get = (url: string, headers: Record<string, string> = {}, key = 'engineer') =>
  world.app.inject({ url, headers: { ...asKey(world.keys[key]), ...headers } });

/** What another program reads out of a Parquet file. */
async function rowsOf(bytes: Buffer): Promise<unknown[]> {
  const path = join(folder, 'table.parquet');
  await writeFile(path, bytes);
  const connection = await (await DuckDBInstance.create()).connect();
  const reader = await connection.runAndReadAll(`SELECT * FROM '${path}'`);
  const rows = reader.getRowObjectsJson();
  connection.closeSync();
  return rows;
}

// Source: RFC 4180, 2; RFC 9110, 12.5.1.
describe('a series', () => {
  const url = `/v1/machines/north-1/samples?from=${new Date(worldStartMs).toISOString()}&to=${new Date(worldStartMs + 60_000).toISOString()}&channels=scrInletTempC&buckets=60`;

  it('comes as CSV by query or by header, with holes left empty', async () => {
    const asked = await get(`${url}&format=csv`);
    expect(asked.headers['content-type']).toMatch(/^text\/csv/);
    expect(asked.headers['content-disposition']).toBe('attachment; filename="north-1_samples.csv"');
    const lines = asked.body.split('\r\n');
    expect(lines[0]).toBe('startedAt,scrInletTempC_min,scrInletTempC_mean,scrInletTempC_max');
    expect(lines[1]).toBe('2026-03-10T06:00:00.000Z,300,300,300');
    expect(lines[4]).toBe('2026-03-10T06:00:03.000Z,,,');
    expect((await get(url, { accept: 'text/csv' })).body).toBe(asked.body);
    expect((await get(url, { accept: 'text/html, application/json;q=0.9' })).headers['content-type']).toMatch(/json/);
  });

  it('comes as Parquet that another program reads, with the same values', async () => {
    const json = (await get(url)).json();
    const rows = (await rowsOf((await get(`${url}&format=parquet`)).rawPayload)) as Record<string, unknown>[];
    expect(rows.map((row) => row.scrInletTempC_mean)).toEqual(json.channels.scrInletTempC.mean);
    expect(rows[0]?.startedAt).toMatch(/^2026-03-10 06:00:00/);
  });

  it('of residency and scores has the same columns in every form', async () => {
    for (const path of ['residency?bucket=hour', 'scores?']) {
      const csv = (await get(`/v1/machines/north-1/${path}&format=csv`)).body.split('\r\n');
      const rows = await rowsOf((await get(`/v1/machines/north-1/${path}&format=parquet`)).rawPayload);
      expect(rows).toHaveLength(csv.length - 2);
      expect(Object.keys(rows[0] as object).join(',')).toBe(csv[0]);
      expect(rows.length).toBeGreaterThan(0);
    }
  });

  it('keeps text from being taken for a formula', () => {
    const columns = [{ name: 'a', kind: 'text', values: ['=1+1', '"x", y', null, '-2'] }] as const;
    expect(toCsv({ columns, length: 4 })).toBe('a\r\n\'=1+1\r\n"""x"", y"\r\n\r\n\'-2\r\n');
  });
});

describe('scores', () => {
  it('are kept day by day, the last sample of a day deciding', async () => {
    const day = (n: number, score: number) =>
      changeOf({ machineId: 'north-1', fromMs: worldStartMs, toMs: worldStartMs + n, score });
    const dayMs = 86_400_000;
    for (const [n, score] of [
      [dayMs, 50],
      [2 * dayMs, 60],
      [2 * dayMs + 1000, 66],
      [2 * dayMs + 500, 1],
    ] as const) {
      await world.store.commit([day(n, score)]);
    }
    const { items } = (await get('/v1/machines/north-1/scores')).json();
    expect(items.map((item: { day: string; value: number }) => [item.day, item.value])).toEqual([
      ['2026-03-10', 40],
      ['2026-03-11', 50],
      ['2026-03-12', 66],
    ]);
  });
});

describe('recordings', () => {
  it('are the archived days, and every sample of a day', async () => {
    const list = (await get('/v1/machines/north-1/recordings')).json();
    expect(list).toEqual({
      items: [{ day: '2026-03-10', from: '2026-03-10T06:00:00.000Z', to: '2026-03-10T06:01:39.000Z', samples: 100 }],
      nextCursor: null,
    });
    const csv = (await get('/v1/machines/north-1/recordings/2026-03-10')).body.split('\r\n');
    expect(csv).toHaveLength(102);
    expect(csv.slice(0, 2)).toEqual([
      'time,machineId,engineSpeedRpm,scrInletTempC',
      '2026-03-10T06:00:00.000Z,north-1,800,300',
    ]);
    expect((await get('/v1/machines/north-1/recordings/2026-03-11')).json().code).toBe('recording-not-found');
  });
});

describe('findings of all machines', () => {
  it('are those of the fleets that are seen, by kind and severity', async () => {
    const idsFor = async (query: string, key?: string) =>
      (await get(`/v1/findings?${query}`, {}, key)).json().items.map((item: { machineId: string }) => item.machineId);
    expect(await idsFor('')).toEqual(['north-1', 'south-1']);
    expect(await idsFor('', 'south-viewer')).toEqual(['south-1']);
    expect(await idsFor('fleet=south')).toEqual(['south-1']);
    expect(await idsFor('fleet=south', 'north-viewer')).toEqual([]);
    expect(await idsFor('machineId=north-1&kind=idle-streak&severity=warning')).toEqual(['north-1']);
    expect(await idsFor('severity=severe')).toEqual([]);
    expect((await get('/v1/findings?severity=dire')).json().code).toBe('invalid-request');
    expect((await get('/v1/machines/north-1/runs')).json().items).toEqual([]);
  });
});

describe('fields', () => {
  it('gives what is asked for and nothing else', async () => {
    expect((await get('/v1/machines?sort=name&fields=machineId,name')).json().items[0]).toEqual({
      machineId: 'north-1',
      name: 'north loader',
    });
    expect((await get('/v1/machines/north-1?fields=machineId,unheard')).json()).toEqual({ machineId: 'north-1' });
    expect((await get('/v1/findings?fields=kind')).json().items[0]).toEqual({ kind: 'idle-streak' });
    expect((await get('/v1/machines?fields=')).statusCode).toBe(400);
    const tags = await Promise.all(
      ['name', 'site'].map(async (field) => (await get(`/v1/machines?fields=${field}`)).headers.etag),
    );
    expect(new Set(tags).size).toBe(2);
  });
});

describe('a profile', () => {
  const put = (machineId: string, profile: object, key: string) =>
    world.app.inject({
      method: 'PUT',
      url: `/v1/machines/${machineId}/profile`,
      headers: asKey(world.keys[key]),
      payload: profile,
    });

  it('is replaced as a whole, told of, and moves the machine only where its keeper may', async () => {
    await seedMachine(world.store, { machineId: 'north-2', fromMs: worldStartMs, toMs: worldStartMs + 1000 });
    await world.store.moveMachine('north-2', 'north');
    const answer = await put('north-2', { name: 'Second loader', baseIdleRpm: 800 }, 'north-engineer');
    expect(answer.json()).toMatchObject({
      fleetId: 'north',
      profile: { name: 'Second loader', baseIdleRpm: 800, timeZone: 'UTC' },
    });
    expect(profiles).toEqual(['north-2 800']);
    expect((await put('north-2', { fleet: 'south' }, 'north-engineer')).json().code).toBe('fleet-not-yours');
    expect((await put('north-2', { fleet: 'nowhere' }, 'engineer')).json().code).toBe('fleet-not-found');
    expect((await put('north-2', { baseIdleRpm: 1 }, 'engineer')).json().code).toBe('invalid-request');
    expect((await put('north-2', { fleet: 'south' }, 'engineer')).json().fleetId).toBe('south');
    expect((await get('/v1/machines/north-2', {}, 'north-viewer')).statusCode).toBe(404);
    expect((await get('/v1/machines/north-2', {}, 'south-viewer')).statusCode).toBe(200);
    expect((await put('north-3', { fleet: 'north' }, 'engineer')).json().fleetId).toBe('north');
    expect((await put('north-4', { fleet: 'north' }, 'north-engineer')).statusCode).toBe(404);
  });
});
