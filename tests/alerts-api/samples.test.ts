import { type SampleSeries, sampleSeriesSchema } from '@warmbrick/contracts';
import fc from 'fast-check';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { secondsOf, seedMachine } from './fleet.js';
import { startTestApp, type TestApp } from './test-app.js';

const startMs = Date.UTC(2025, 4, 14, 10);

let t: TestApp;
beforeEach(async () => {
  t = await startTestApp();
  const samples = [secondsOf('m1', startMs, 600), secondsOf('m1', startMs + 1_200_000, 60)];
  await seedMachine(t.store, { machineId: 'm1', fromMs: startMs, toMs: startMs + 1_259_000, samples });
});
afterEach(() => t.app.close());

async function series(query: string): Promise<SampleSeries> {
  return sampleSeriesSchema.parse((await t.app.inject(`/v1/machines/m1/samples?${query}`)).json());
}

describe('GET /v1/machines/:machineId/samples', () => {
  it('gives lowest, mean and highest of each bucket, and leaves empty ones out', async () => {
    const found = await series('from=2025-05-14T10:00:00Z&to=2025-05-14T10:21:00Z&buckets=21');
    expect(found.bucketS).toBe(60);
    expect(found.startedAt).toHaveLength(11);
    expect(found.startedAt.at(-1)).toBe('2025-05-14T10:20:00.000Z');
    const speed = found.channels.engineSpeedRpm;
    expect(speed?.unit).toBe('rpm');
    expect(speed?.min.slice(0, 2)).toEqual([800, 860]);
    expect(speed?.mean.slice(0, 2)).toEqual([829.5, 889.5]);
    expect(speed?.max.slice(0, 2)).toEqual([859, 919]);
  });

  it('says null where a bucket has samples but no usable value of a channel', async () => {
    const found = await series('from=2025-05-14T10:00:00Z&to=2025-05-14T10:00:06Z&buckets=6&channels=scrInletTempC');
    expect(Object.keys(found.channels)).toEqual(['scrInletTempC']);
    expect(found.channels.scrInletTempC?.mean).toEqual([300, 300, 300, null, 300, 300]);
  });

  it('by default the last 24 h up to the last sample, all channels', async () => {
    const found = await series('');
    expect(found.to).toBe('2025-05-14T10:20:59.001Z');
    expect(Object.keys(found.channels)).toEqual(['engineSpeedRpm', 'scrInletTempC']);
    const mean = found.channels.engineSpeedRpm?.mean ?? [];
    expect(mean.length).toBeGreaterThan(1);
    expect(found.startedAt.length).toBeLessThanOrEqual(600);
  });

  it('reads the archive a day at a time, whatever the range', async () => {
    const spans: number[] = [];
    const { readSamples } = t.store;
    t.store.readSamples = (range) => {
      spans.push(range.toMs - range.fromMs);
      return readSamples(range);
    };
    await series('from=2025-04-01T00:00:00Z&to=2025-05-30T00:00:00Z');
    expect(spans.length).toBeGreaterThan(0);
    expect(Math.max(...spans)).toBeLessThanOrEqual(86_400_000);
  });
});

const anyRange = fc.record({
  fromS: fc.integer({ min: 0, max: 1258 }),
  lengthS: fc.integer({ min: 1, max: 1260 }),
  most: fc.integer({ min: 1, max: 300 }),
});

describe('laws of the buckets', () => {
  it('never more than asked for, in step, and no sample of the range is lost or added', async () => {
    await fc.assert(
      fc.asyncProperty(anyRange, async ({ fromS, lengthS, most }) => {
        const fromMs = startMs + fromS * 1000;
        const toMs = fromMs + lengthS * 1000;
        const from = new Date(fromMs).toISOString();
        const found = await series(`from=${from}&to=${new Date(toMs).toISOString()}&buckets=${most}`);
        const times = found.startedAt.map((text) => Date.parse(text));
        expect(times.length).toBeLessThanOrEqual(most);
        for (let i = 1; i < times.length; i++) {
          expect(((times[i] ?? 0) - (times[i - 1] ?? 0)) % (found.bucketS * 1000)).toBe(0);
        }
        const speeds = speedsBetween(fromMs, toMs);
        if (speeds.length === 0) {
          expect(times).toEqual([]);
          return;
        }
        const { min = [], max = [] } = found.channels.engineSpeedRpm ?? {};
        expect(Math.min(...min.map(Number))).toBe(Math.min(...speeds));
        expect(Math.max(...max.map(Number))).toBe(Math.max(...speeds));
      }),
    );
  });
});

/** The engine speeds that `secondsOf` made in a range. */
function speedsBetween(fromMs: number, toMs: number): number[] {
  const first = Array.from({ length: 600 }, (_, i) => [startMs + i * 1000, 800 + i]);
  const second = Array.from({ length: 60 }, (_, i) => [startMs + 1_200_000 + i * 1000, 800 + i]);
  return [...first, ...second].flatMap(([timeMs = 0, rpm = 0]) => (timeMs >= fromMs && timeMs < toMs ? [rpm] : []));
}
