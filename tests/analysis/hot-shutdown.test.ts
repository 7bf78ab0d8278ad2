import { idle, off, recordingOf, silence, work } from '@warmbrick/testkit';
import { describe, expect, it } from 'vitest';
import { analyse } from './analyse.js';

/** An hour of work, then so many seconds of idle, then key-off. */
const stopAfter = (idleS: number) => analyse(recordingOf([off(60), idle(300), work(3600), idle(idleS), off(120)]));

describe('hot shutdowns', () => {
  it('wants 300 s at base idle without load since the last load (common practice: about five minutes)', () => {
    expect(stopAfter(300).of('hot-shutdown')).toEqual([]);
    const [stop] = stopAfter(299).of('hot-shutdown');
    expect(stop?.values).toMatchObject({ cooldownS: 299, wantedS: 300, inferred: false });
  });

  it('grades the stop by what was missing', () => {
    const severity = (idleS: number) => stopAfter(idleS).of('hot-shutdown')[0]?.severity;
    expect(severity(0)).toBe('severe');
    expect(severity(59)).toBe('severe');
    expect(severity(120)).toBe('warning');
    expect(severity(240)).toBe('notice');
  });

  it('dates the stop at the first sample with the engine at rest', () => {
    const [stop] = stopAfter(90).of('hot-shutdown');
    expect(stop?.startedMs).toBe(Date.UTC(2026, 2, 2, 6) + (60 + 300 + 3600 + 90) * 1000);
    expect(stop?.values.cooldownS).toBe(90);
  });

  it('does not let high idle count as cool-down, nor reset it', () => {
    const highIdle = { forS: 200, values: { engineSpeedRpm: 1400, engineLoadPct: 10, exhaustTempC: 250 } };
    const { of } = analyse(recordingOf([off(60), work(3600), idle(100), highIdle, idle(50), off(60)]));
    expect(of('hot-shutdown')[0]?.values.cooldownS).toBe(150);
  });

  it('starts the cool-down anew at each load', () => {
    const { of } = analyse(recordingOf([off(60), work(3600), idle(290), work(20), idle(40), off(60)]));
    expect(of('hot-shutdown')[0]?.values.cooldownS).toBe(40);
  });

  it('calls no stop hot that never got hot: a cold engine moved for half a minute', () => {
    const move = { forS: 30, values: { engineSpeedRpm: 1300, engineLoadPct: 35, exhaustTempC: 90 } };
    expect(analyse(recordingOf([off(600), idle(60), move, idle(5), off(60)])).of('hot-shutdown')).toEqual([]);
  });

  it('judges by the turbine-side sensor where there is one, not by the slow SCR', () => {
    const sensed = (turbineOutTempC: number) =>
      recordingOf([
        off(60),
        // A turbine outlet that stays colder than what lies behind it for a quarter of an hour is a suspect sensor.
        { forS: 840, values: { engineSpeedRpm: 1700, engineLoadPct: 70, scrInletTempC: 380, turbineOutTempC } },
        off(60),
      ]);
    expect(analyse(sensed(150)).of('hot-shutdown')).toEqual([]);
    const [hot] = analyse(sensed(420)).of('hot-shutdown');
    expect(hot?.values.turbineTempC).toBeCloseTo(420, 0);
    expect(hot?.evidence.temperatureFrom).toBe('turbine outlet sensor');
  });
});

describe('inferred stops', () => {
  it('infers the stop from the next start when the gateway lost power with the key', () => {
    const night = 14 * 3600;
    const { of, summary } = analyse(recordingOf([off(60), work(3600), silence(night), off(30), idle(600), off(60)]));
    const [stop] = of('hot-shutdown');
    expect(stop?.values).toMatchObject({ inferred: true, cooldownS: 0 });
    expect(stop?.evidence.stopSeenBy).toBe('next-start');
    expect(stop?.startedMs).toBe(Date.UTC(2026, 2, 2, 6) + 3659 * 1000);
    // The night is proven to be off, so it is no gap in the data.
    expect(of('data-gap')).toEqual([]);
    expect(summary.residency.unobservedS).toBe(0);
  });

  it('infers it from engine hours that stood still', () => {
    const hours = (engineHours: number) => ({
      forS: 1200,
      values: { engineSpeedRpm: 1700, engineLoadPct: 75, exhaustTempC: 390, engineHours },
    });
    const stood = analyse(recordingOf([hours(100), silence(7200), hours(100.05)]));
    expect(stood.of('hot-shutdown')[0]?.evidence.stopSeenBy).toBe('engine-hours');
    const ran = analyse(recordingOf([hours(100), silence(7200), hours(102.3)]));
    expect(ran.of('hot-shutdown')).toEqual([]);
    expect(ran.of('data-gap')[0]?.evidence.engineRan).toBe(true);
  });

  it('infers it from coolant that went cold', () => {
    const warm = (coolantTempC: number) => ({
      forS: 1200,
      values: { engineSpeedRpm: 1700, engineLoadPct: 75, exhaustTempC: 390, coolantTempC },
    });
    expect(analyse(recordingOf([warm(88), silence(1500), warm(40)])).of('hot-shutdown')[0]?.evidence.stopSeenBy).toBe(
      'coolant',
    );
    expect(analyse(recordingOf([warm(88), silence(1500), warm(86)])).of('hot-shutdown')).toEqual([]);
  });

  it('claims no stop at the end of a recording: the engine may run on', () => {
    const { of } = analyse(recordingOf([off(60), work(3600)]));
    expect(of('hot-shutdown')).toEqual([]);
    expect(of('engine-run').map((run) => run.endedMs)).toEqual([null]);
  });

  it('judges no stop whose moment nobody saw: the engine ran on unseen before it stood', () => {
    const hours = (engineHours: number) => ({
      forS: 1200,
      values: { engineSpeedRpm: 1700, engineLoadPct: 75, exhaustTempC: 390, engineHours },
    });
    const { of } = analyse(recordingOf([hours(100), silence(10 * 3600), hours(102.3)]));
    expect(of('hot-shutdown')).toEqual([]);
    expect(of('engine-run')[0]?.evidence.stopTimeKnown).toBe(false);
  });
});
