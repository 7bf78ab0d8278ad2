import { type Finding, type FindingKind, findingId, shiftReport } from '@warmbrick/analysis';
import { describe, expect, it } from 'vitest';

const startMs = Date.UTC(2026, 10, 25, 5);
const hour = 3_600_000;
const bounds = { startMs, endMs: startMs + 12 * hour, cooldownWantedS: 300 };

const finding = (kind: FindingKind, fromH: number, toH: number | null, more: Partial<Finding> = {}): Finding => ({
  id: findingId('m', kind, startMs + fromH * hour),
  machineId: 'm',
  kind,
  startedMs: startMs + fromH * hour,
  endedMs: toH === null ? null : startMs + toH * hour,
  severity: 'info',
  values: {},
  evidence: {},
  thresholdSet: 'test',
  emittedMs: startMs,
  ...more,
});
const run = (fromH: number, toH: number | null, cooldownS: number | null, startObserved = true) =>
  finding('engine-run', fromH, toH, { values: { cooldownS }, evidence: { startObserved } });

describe('the report of a shift', () => {
  it('grades each start and stop', () => {
    const report = shiftReport(
      [
        run(6, 8, 60),
        run(1, 3, 310),
        run(9, 10, null),
        finding('early-load', 6.01, 6.02, { values: { warmupS: 20, wantedS: 180 } }),
        finding('hot-shutdown', 8, 8, { values: { cooldownS: 55 } }),
      ],
      bounds,
    );
    expect(report.starts.map(({ grade }) => grade)).toEqual(['good', 'too-early-load', 'good']);
    expect(report.starts[1]).toMatchObject({ warmupS: 20, wantedS: 180 });
    expect(report.stops.map(({ grade, cooldownS }) => [grade, cooldownS])).toEqual([
      ['good', 310],
      ['hot', 55],
      ['unknown', null],
    ]);
    expect(report.wellDoneRatio).toBe(3 / 5);
  });

  it('counts what lies in the shift only: a run over its edges has its start or stop elsewhere', () => {
    const report = shiftReport([run(-2, 1, 400), run(11, 14, 10), run(20, 21, 5)], bounds);
    expect(report.starts.map(({ atMs }) => (atMs - startMs) / hour)).toEqual([11]);
    expect(report.stops.map(({ atMs }) => (atMs - startMs) / hour)).toEqual([1]);
  });

  it('grades nothing that was not seen', () => {
    const report = shiftReport([run(0.5, null, null, false)], bounds);
    expect(report).toMatchObject({ starts: [{ grade: 'unseen' }], stops: [], wellDoneRatio: null });
  });

  it('names idles that reach into it, and fills', () => {
    const report = shiftReport(
      [
        finding('idle-streak', -1, 0.5, { values: { durationS: 5400, fuelL: 3 } }),
        finding('idle-streak', 11, null, { values: { durationS: 4000, fuelL: null } }),
        finding('idle-streak', -3, -1, { values: { durationS: 7200, fuelL: 3 } }),
        finding('def-fill', 2, 2, { values: { litres: 21, levelAfterPct: 88 } }),
      ],
      bounds,
    );
    expect(report.idles.map(({ durationS }) => durationS)).toEqual([5400, 4000]);
    expect(report.fills).toEqual([{ atMs: startMs + 2 * hour, litres: 21, levelAfterPct: 88 }]);
  });
});
