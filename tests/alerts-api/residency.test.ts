import { type ResidencySeries, residencySeriesSchema } from '@warmbrick/contracts';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { quarterMs, seedMachine, workingRow } from './fleet.js';
import { startTestApp, type TestApp } from './test-app.js';

let t: TestApp;
beforeEach(async () => {
  t = await startTestApp();
});
afterEach(() => t.app.close());

const shifts = [
  { name: 'early', start: '06:00', end: '14:00' },
  { name: 'late', start: '14:00', end: '22:00' },
  { name: 'night', start: '22:00', end: '06:00' },
];

/** A machine that worked without a break between two times. */
async function seedWorking(from: string, to: string, timeZone: string): Promise<void> {
  const fromMs = Date.parse(from);
  const toMs = Date.parse(to);
  const rows = Array.from({ length: (toMs - fromMs) / quarterMs }, (_, i) => workingRow(fromMs + i * quarterMs));
  await seedMachine(t.store, { machineId: 'm1', fromMs, toMs, rows, profile: { timeZone, shifts } });
}

async function series(query: string): Promise<ResidencySeries> {
  return residencySeriesSchema.parse((await t.app.inject(`/v1/machines/m1/residency?${query}`)).json());
}

const hoursOf = (found: ResidencySeries) => found.items.map((item) => item.runningS / 3600);

/**
 * Source of the two dates: Directive 2000/84/EC, articles 2 and 3: summer time begins and ends at 01:00 UTC on the last
 * Sunday of March and of October; in 2025 that is 30 March and 26 October.
 */
describe('days and shifts when the clocks change', () => {
  it('the Sunday in March has 23 hours and a night shift of 7', async () => {
    await seedWorking('2025-03-28T23:00:00Z', '2025-03-31T22:00:00Z', 'Europe/Oslo');
    const days = await series('bucket=day');
    expect(days.items.map(({ startedAt }) => startedAt)).toEqual([
      '2025-03-28T23:00:00.000Z',
      '2025-03-29T23:00:00.000Z',
      '2025-03-30T22:00:00.000Z',
    ]);
    expect(hoursOf(days)).toEqual([24, 23, 24]);
    const found = await series('bucket=shift&from=2025-03-29T21:00:00Z&to=2025-03-30T20:00:00Z');
    expect(found.items.map(({ shift }) => shift)).toEqual(['night', 'early', 'late']);
    expect(hoursOf(found)).toEqual([7, 8, 8]);
    expect(found.items[0]).toMatchObject({
      startedAt: '2025-03-29T21:00:00.000Z',
      endedAt: '2025-03-30T04:00:00.000Z',
    });
  });

  it('the Sunday in October has 25 hours, a night shift of 9, and 25 hour buckets', async () => {
    await seedWorking('2025-10-24T22:00:00Z', '2025-10-27T23:00:00Z', 'Europe/Oslo');
    const days = await series('bucket=day&from=2025-10-25T22:00:00Z&to=2025-10-26T23:00:00Z');
    expect(hoursOf(days)).toEqual([25]);
    expect(days.items[0]).toMatchObject({ startedAt: '2025-10-25T22:00:00.000Z', endedAt: '2025-10-26T23:00:00.000Z' });
    const found = await series('bucket=shift&from=2025-10-25T20:00:00Z&to=2025-10-26T05:00:00Z');
    expect(hoursOf(found)).toEqual([9]);
    const hours = await series('bucket=hour&from=2025-10-25T22:00:00Z&to=2025-10-26T23:00:00Z');
    expect(hours.items).toHaveLength(25);
    expect(hoursOf(hours).every((h) => h === 1)).toBe(true);
  });

  // Source: the IANA time zone database, asia: Nepal is 5:45 ahead of UTC.
  it('hours begin on the wall clock’s hour, also where that is a quarter past', async () => {
    await seedWorking('2025-05-14T00:00:00Z', '2025-05-14T06:00:00Z', 'Asia/Kathmandu');
    const found = await series('bucket=hour&from=2025-05-14T01:15:00Z&to=2025-05-14T03:15:00Z');
    expect(found.items.map(({ startedAt }) => startedAt)).toEqual([
      '2025-05-14T01:15:00.000Z',
      '2025-05-14T02:15:00.000Z',
    ]);
    expect(hoursOf(found)).toEqual([1, 1]);
  });

  // Source: the IANA time zone database, australasia: Samoa skipped 30 December 2011.
  it('a date that a zone skipped has no day', async () => {
    await seedWorking('2011-12-29T10:00:00Z', '2011-12-31T10:00:00Z', 'Pacific/Apia');
    const days = await series('bucket=day');
    expect(hoursOf(days)).toEqual([24, 24]);
  });
});

describe('GET /v1/machines/:machineId/residency', () => {
  it('quarters of the last day by default', async () => {
    await seedWorking('2025-05-01T00:00:00Z', '2025-05-14T10:30:00Z', 'UTC');
    const found = await series('bucket=quarter');
    expect(found.items).toHaveLength(96);
    expect(found.items[0]?.startedAt).toBe('2025-05-13T10:30:00.000Z');
  });

  it('gives whole buckets, and nothing before the first sample or after the last', async () => {
    await seedWorking('2025-05-14T08:30:00Z', '2025-05-14T10:15:00Z', 'UTC');
    const found = await series('bucket=hour&from=2025-05-13T00:00:00Z&to=2025-05-15T00:00:00Z');
    expect(hoursOf(found)).toEqual([0.5, 1, 0.25]);
    expect(found.items.every(({ unobservedS }) => unobservedS === 0)).toBe(true);
    expect((await series('from=2024-01-01T00:00:00Z&to=2024-01-02T00:00:00Z')).items).toEqual([]);
  });

  it('the same seconds by quarter, hour and day', async () => {
    await seedWorking('2025-03-28T23:00:00Z', '2025-03-31T22:00:00Z', 'Europe/Oslo');
    const query = 'from=2025-03-28T23:00:00Z&to=2025-03-31T22:00:00Z';
    for (const bucket of ['quarter', 'hour', 'day', 'shift']) {
      const found = await series(`${query}&bucket=${bucket}`);
      // The shifts of the first morning began before the first sample; they are whole all the same.
      expect(
        found.items.reduce((sum, item) => sum + item.fuelL, 0),
        bucket,
      ).toBe(71 * 4 * 5);
    }
  });
});
