import { idle, off, recordingOf, silence, work } from '@warmbrick/testkit';
import { describe, expect, it } from 'vitest';
import { analyse } from './analyse.js';

describe('cold dwells', () => {
  it('finds an hour of light duty below the window', () => {
    const light = { forS: 4000, values: { engineSpeedRpm: 1300, engineLoadPct: 30, exhaustTempC: 260 } };
    const [dwell] = analyse(recordingOf([off(60), light, work(600, 400), off(60)])).of('cold-dwell');
    expect(dwell?.values).toMatchObject({ durationS: 4000, meanTempC: 260, minTempC: 260, windowLowC: 350 });
  });

  it('is not ended by a warm minute, but by two', () => {
    const dwell = (warmS: number) =>
      analyse(recordingOf([idle(2000), work(warmS, 380), idle(2000), off(60)])).of('cold-dwell').length;
    expect(dwell(60)).toBe(1);
    expect(dwell(120)).toBe(0);
  });

  it('starts below the low end and only ends above it by the deadband', () => {
    const flutter = Array.from({ length: 50 }, (_, k) => work(100, k % 2 === 0 ? 349 : 358));
    expect(analyse(recordingOf([...flutter, off(10)])).of('cold-dwell')).toHaveLength(1);
    const warm = Array.from({ length: 50 }, () => work(100, 352));
    expect(analyse(recordingOf([...warm, off(10)])).of('cold-dwell')).toEqual([]);
  });
});

describe('early load', () => {
  const at = (engineLoadPct: number, coolantTempC: number, forS: number) => ({
    forS,
    values: { engineSpeedRpm: engineLoadPct > 20 ? 1700 : 950, engineLoadPct, coolantTempC, exhaustTempC: 150 },
  });
  const rest = (forS: number, coolantTempC: number) => ({ forS, values: { engineSpeedRpm: 0, coolantTempC } });

  it('finds a cold engine put to work after half a minute', () => {
    const { of } = analyse(recordingOf([rest(60, 5), at(10, 5, 30), at(80, 8, 120), at(80, 30, 600)]));
    // 180 s, and 6 s more for each of the 15 K below 20 C: engineering judgement, the manual comes first.
    expect(of('early-load').map((f) => f.values)).toEqual([
      { warmupS: 30, wantedS: 270, loadPct: 80, coolantTempC: 5 },
    ]);
  });

  it('is content with a warm engine, with a full warm-up and with a moment of load', () => {
    expect(analyse(recordingOf([rest(60, 70), at(10, 70, 5), at(80, 75, 600)])).of('early-load')).toEqual([]);
    expect(analyse(recordingOf([rest(60, 5), at(10, 5, 275), at(80, 8, 600)])).of('early-load')).toEqual([]);
    expect(analyse(recordingOf([rest(60, 5), at(10, 5, 30), at(80, 5, 9), at(10, 5, 600)])).of('early-load')).toEqual(
      [],
    );
  });

  it('judges no start that was not seen', () => {
    expect(analyse(recordingOf([at(10, 5, 30), at(80, 8, 600)])).of('early-load')).toEqual([]);
  });
});

describe('engine runs and the mode now', () => {
  it('runs from 400 rpm', () => {
    const turning = (engineSpeedRpm: number) => ({ forS: 100, values: { engineSpeedRpm, engineLoadPct: 0 } });
    expect(analyse(recordingOf([turning(399)])).summary.residency.runningS).toBe(0);
    expect(analyse(recordingOf([turning(400)])).summary.residency.runningS).toBe(99);
  });

  it('tells runs apart and says what was seen of them', () => {
    const { of } = analyse(recordingOf([off(60), idle(300), work(600), idle(400), off(1000), idle(200), off(10)]));
    expect(of('engine-run').map((run) => [run.values.durationS, run.evidence.startObserved])).toEqual([
      [1300, true],
      [200, true],
    ]);
  });

  it('knows the mode at the last sample', () => {
    const mode = (...segments: Parameters<typeof recordingOf>[0]) => analyse(recordingOf(segments)).summary.mode;
    expect(mode(work(600))).toBe('working');
    expect(mode(work(600), idle(100))).toBe('cooling-down');
    expect(mode(work(600), idle(400))).toBe('idle');
    expect(mode(work(600), off(100))).toBe('off');
    expect(mode(work(600), { forS: 10, values: { exhaustTempC: 300 } })).toBe('unobserved');
  });

  it('does not end a run at a short silence, and reports no gap for a long one with the engine off', () => {
    expect(analyse(recordingOf([work(600), silence(200), work(600), off(10)])).of('engine-run')).toHaveLength(1);
    expect(analyse(recordingOf([off(600), silence(40_000), off(600)])).of('data-gap')).toEqual([]);
  });
});
