import { type Finding, type HourUse, type ServiceRecord, serviceDue, serviceFindings } from '@warmbrick/analysis';
import { defaultProfile, machineProfileSchema, usualServiceIntervals } from '@warmbrick/signals';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';

const dayMs = 86_400_000;
const nowMs = Date.UTC(2026, 10, 25, 12);
const oil = { item: 'engine-oil', name: 'Engine oil', hours: 500, months: 12, source: 'test' };
/** Some hours of running on each of the days before now. */
const running = (days: number, hoursADay: number): HourUse['running'] =>
  Array.from({ length: days }, (_, k) => ({ startedMs: nowMs - (days - k) * dayMs, runningS: hoursADay * 3600 }));
const due = (records: readonly ServiceRecord[], use: HourUse, interval = oil) =>
  serviceDue({ intervals: [interval], records, use, nowMs })[0];

describe('what is due', () => {
  it('is said of nothing that was never recorded', () => {
    expect(due([], { reading: null, running: running(30, 8) })).toMatchObject({
      state: 'never-recorded',
      hoursLeft: null,
      dueMs: null,
    });
  });

  it('counts by the hour meter where both readings are known', () => {
    const reading = { engineHours: 4700, atMs: nowMs };
    const found = due([{ item: 'engine-oil', atMs: nowMs - 90 * dayMs, engineHours: 4300 }], {
      reading,
      running: running(28, 8),
    });
    expect(found).toMatchObject({
      usedHours: 400,
      usedBasis: 'hour-meter',
      hoursLeft: 100,
      state: 'soon',
      dueBy: 'hours',
    });
    // 100 h at 8 h a day.
    expect(((found?.dueMs ?? 0) - nowMs) / dayMs).toBeCloseTo(12.5, 6);
  });

  it('adds what ran after the last reading', () => {
    const reading = { engineHours: 4700, atMs: nowMs - 5 * dayMs };
    const record = { item: 'engine-oil', atMs: nowMs - 90 * dayMs, engineHours: 4300 };
    expect(due([record], { reading, running: running(28, 8) })?.usedHours).toBe(440);
  });

  it('counts the running that was observed where there is no meter, or one that was set back', () => {
    const record = { item: 'engine-oil', atMs: nowMs - 10 * dayMs, engineHours: null };
    expect(due([record], { reading: null, running: running(28, 8) })).toMatchObject({
      usedHours: 80,
      usedBasis: 'observed-running',
    });
    const back = { reading: { engineHours: 12, atMs: nowMs }, running: running(28, 8) };
    expect(due([{ ...record, engineHours: 4300 }], back)?.usedBasis).toBe('observed-running');
  });

  it('is overdue by hours since the moment in which they were used up', () => {
    const record = { item: 'engine-oil', atMs: nowMs - 70 * dayMs, engineHours: null };
    const found = due([record], { reading: null, running: running(70, 8) });
    expect(found).toMatchObject({ state: 'overdue', hoursLeft: -60, dueBy: 'hours' });
    // 500 h at 8 h a day are over in the course of the 63rd day.
    expect(((found?.dueMs ?? 0) - record.atMs) / dayMs).toBeCloseTo(62, 0);
  });

  it('is overdue by the calendar, on the last day of a month that is shorter', () => {
    const record = { item: 'engine-oil', atMs: Date.UTC(2025, 7, 31), engineHours: 0 };
    const found = due(
      [record],
      { reading: { engineHours: 10, atMs: nowMs }, running: running(1, 1) },
      { ...oil, months: 6 },
    );
    expect(found).toMatchObject({ state: 'overdue', dueBy: 'calendar', dueMs: Date.UTC(2026, 1, 28) });
  });

  it('comes from the latest record of the item only', () => {
    const records = [
      { item: 'engine-oil', atMs: nowMs - 400 * dayMs, engineHours: 100 },
      { item: 'engine-oil', atMs: nowMs - dayMs, engineHours: 900 },
      { item: 'fuel-filter', atMs: nowMs, engineHours: 990 },
    ];
    expect(due(records, { reading: { engineHours: 908, atMs: nowMs }, running: running(28, 8) })).toMatchObject({
      usedHours: 8,
      state: 'fine',
    });
  });

  it('never falls when more was run', () => {
    fc.assert(
      fc.property(fc.array(fc.double({ min: 0, max: 24, noNaN: true }), { maxLength: 60 }), fc.nat(59), (hours, at) => {
        const use = (more: number) => ({
          reading: null,
          running: hours.map((h, k) => ({
            startedMs: nowMs - (60 - k) * dayMs,
            runningS: 3600 * (h + (k === at ? more : 0)),
          })),
        });
        const record = { item: 'engine-oil', atMs: nowMs - 61 * dayMs, engineHours: null };
        const left = (more: number) => due([record], use(more))?.hoursLeft ?? Infinity;
        expect(left(5)).toBeLessThanOrEqual(left(0));
      }),
    );
  });
});

describe('overdue work as findings', () => {
  const record = { item: 'engine-oil', atMs: nowMs - 70 * dayMs, engineHours: null };
  const dues = (days: number) =>
    serviceDue({ intervals: [oil], records: [record], use: { reading: null, running: running(days, 8) }, nowMs });
  const findings = (days: number, open: Finding[] = []) => serviceFindings('m', dues(days), { open, nowMs });

  it('begin once and keep that beginning, however the hours are corrected later', () => {
    const [first] = findings(70);
    expect(first).toMatchObject({
      kind: 'service-overdue',
      endedMs: null,
      severity: 'notice',
      values: { item: 'engine-oil' },
    });
    const more = findings(69, first === undefined ? [] : [first]);
    expect(more.map(({ id }) => id)).toEqual([first?.id]);
  });

  it('end with the record that the work was done', () => {
    const [open] = findings(70);
    const doneMs = nowMs - 3600;
    const done = serviceDue({
      intervals: [oil],
      records: [record, { item: 'engine-oil', atMs: doneMs, engineHours: null }],
      use: { reading: null, running: running(70, 8) },
      nowMs,
    });
    const after = serviceFindings('m', done, { open: open === undefined ? [] : [open], nowMs });
    expect(after).toMatchObject([{ id: open?.id, endedMs: doneMs }]);
    expect(serviceFindings('m', done, { open: [], nowMs })).toEqual([]);
  });
});

describe('intervals', () => {
  it('come with every profile, each with its source, and can be the fleet’s own', () => {
    expect(defaultProfile.serviceIntervals).toEqual(usualServiceIntervals);
    expect(usualServiceIntervals.every(({ source }) => source.length > 0)).toBe(true);
    const own = machineProfileSchema.parse({
      serviceIntervals: [{ item: 'grease', name: 'Grease', hours: 10, months: null }],
    });
    expect(own.serviceIntervals[0]?.source).toBe('set by the fleet');
    const nothing = machineProfileSchema.safeParse({
      serviceIntervals: [{ item: 'grease', name: 'Grease', hours: null, months: null }],
    });
    expect(nothing.error?.issues[0]?.message).toContain('needs hours, months or both');
  });
});
