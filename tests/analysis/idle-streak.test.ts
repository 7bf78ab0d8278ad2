import { idle, off, recordingOf, silence, work } from '@warmbrick/testkit';
import { describe, expect, it } from 'vitest';
import { analyse } from './analyse.js';

const hour = 3600;

describe('idle streaks', () => {
  it('finds an idle of 70 min between work, from its first idle sample until work resumes', () => {
    const { of } = analyse(recordingOf([off(60), work(600), idle(70 * 60), work(600), idle(300), off(60)]));
    const [streak, ...others] = of('idle-streak');
    expect(others).toEqual([]);
    expect(streak?.startedMs).toBe(Date.UTC(2026, 2, 2, 6) + 660_000);
    expect(streak?.values.durationS).toBe(70 * 60);
    expect(streak?.endedMs).toBe((streak?.startedMs as number) + 70 * 60_000);
    expect(streak?.severity).toBe('warning');
  });

  it('stays silent at one second under the hour and speaks at the hour (common practice: not over one hour)', () => {
    expect(analyse(recordingOf([work(60), idle(hour - 1), work(60)])).of('idle-streak')).toEqual([]);
    expect(analyse(recordingOf([work(60), idle(hour), work(60)])).of('idle-streak')).toHaveLength(1);
  });

  it('is a finding while the idle is still going on', () => {
    const [streak] = analyse(recordingOf([work(60), idle(hour + 120)])).of('idle-streak');
    expect(streak?.endedMs).toBeNull();
    // The last sample holds nothing yet.
    expect(streak?.values.durationS).toBe(hour + 119);
  });

  it('goes on over a blip under 30 s and counts it, but ends at a blip of 30 s', () => {
    const short = analyse(recordingOf([idle(1900), work(29), idle(1900), work(60)])).of('idle-streak');
    expect(short.map((f) => f.values.durationS)).toEqual([1900 + 29 + 1900]);
    const long = analyse(recordingOf([idle(1900), work(30), idle(1900), work(60)])).of('idle-streak');
    expect(long).toEqual([]);
  });

  it('ends when the engine is switched off', () => {
    expect(analyse(recordingOf([idle(1900), off(10), idle(1900), off(60)])).of('idle-streak')).toEqual([]);
  });

  it('never counts time that was not seen: a sample holds at most 60 s, the rest is unobserved', () => {
    const { of } = analyse(recordingOf([work(60), idle(2400), silence(540), idle(2400), work(60)]));
    // 2400 s, then the last sample's 60 s instead of 1 s, then 2400 s; the silence of 540 s + 1 s less 60 s is left out.
    expect(of('idle-streak').map((f) => [f.values.durationS, f.evidence.unobservedS])).toEqual([
      [2400 + 59 + 2400, 481],
    ]);
  });

  it('does not bridge a long silence', () => {
    expect(analyse(recordingOf([work(60), idle(2400), silence(1500), idle(2400), work(60)])).of('idle-streak')).toEqual(
      [],
    );
  });

  it('takes base idle and no-load limit from the profile', () => {
    const fast = recordingOf([
      { forS: hour + 60, values: { engineSpeedRpm: 1250, engineLoadPct: 15, exhaustTempC: 160 } },
    ]);
    expect(analyse(fast).of('idle-streak')).toEqual([]);
    expect(analyse(fast, { baseIdleRpm: 1200 }).of('idle-streak')).toHaveLength(1);
    expect(analyse(fast, { baseIdleRpm: 1200, noLoadPct: 10 }).of('idle-streak')).toEqual([]);
  });

  it('prices fuel and hours of the streak (worked example of the idle-cost rule: 2.03 L/h at 1.20 and 15 an hour)', () => {
    const block = recordingOf([
      {
        forS: hour + 1,
        values: { engineSpeedRpm: 950, engineLoadPct: 8, exhaustTempC: 130, fuelRateLPerH: 2.05 },
      },
    ]);
    const [streak] = analyse(block).of('idle-streak');
    expect(streak?.values.fuelL).toBeCloseTo(2.05, 2);
    expect(streak?.values.fuelCost).toBeCloseTo(2.05 * 1.2, 2);
    expect(streak?.values.hourCost).toBe(15);
  });
});
