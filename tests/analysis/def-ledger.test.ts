import { hoursUntilUsed } from '@warmbrick/analysis';
import { recordingOf, type Segment, silence } from '@warmbrick/testkit';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { analyse } from './analyse.js';

const minutes = (count: number, at: (minute: number) => Segment['values']): Segment[] =>
  Array.from({ length: count }, (_, minute) => ({ forS: 60, values: at(minute) ?? {} }));

const working = { engineSpeedRpm: 1700, engineLoadPct: 75, exhaustTempC: 390, ambientTempC: 12 };
const still = { engineSpeedRpm: 0, engineLoadPct: 0, exhaustTempC: 60, ambientTempC: 12 };
/** Warm work at a level of a 30 L tank. */
const work = (count: number, defLevelPct: number, more: Segment['values'] = {}) =>
  minutes(count, () => ({ ...working, defLevelPct, ...more }));
const stop = (count: number, defLevelPct: number, more: Segment['values'] = {}) =>
  minutes(count, () => ({ ...still, defLevelPct, ...more }));
const run = (...segments: Segment[][]) => analyse(recordingOf(segments.flat(), { stepS: 10 }));

describe('DEF fills', () => {
  it('are found at a stop, in litres of the tank', () => {
    const { of } = run(work(20, 22), stop(3, 22), stop(2, 40), stop(8, 87), work(20, 87));
    const [fill, ...others] = of('def-fill');
    expect(others).toEqual([]);
    expect(fill?.values.litres).toBeCloseTo(0.65 * 30, 0);
    expect(fill?.values.levelBeforePct).toBeCloseTo(22, 0);
    expect(fill?.values.levelAfterPct).toBeCloseTo(87, 0);
    expect(fill?.severity).toBe('info');
    expect(of('def-drop')).toEqual([]);
  });

  it('are found between a silence and the next start', () => {
    const { of } = run(work(20, 30, { engineHours: 100 }), [silence(8 * 3600)], work(20, 80, { engineHours: 100 }));
    expect(of('def-fill').map((f) => f.values.litres)).toEqual([15]);
  });

  it('are no slosh, however wild, and no slope of ten minutes', () => {
    const slosh = minutes(120, (m) => ({ ...working, defLevelPct: 50 + 6 * Math.sin(1.7 * m) }));
    expect(run(slosh).of('def-fill')).toEqual([]);
    expect(run(slosh).of('def-drop')).toEqual([]);
    const slope = run(work(30, 50), work(10, 62), work(30, 50));
    expect([...slope.of('def-fill'), ...slope.of('def-drop')]).toEqual([]);
  });

  it('are believed without a stop only when they last', () => {
    expect(run(work(30, 50), work(30, 62)).of('def-fill')).toHaveLength(1);
  });
});

describe('DEF drops', () => {
  const before = { engineHours: 100, fuelRateLPerH: 20 };
  it('are found when the tank is emptier in the morning and engine hours stood still', () => {
    const { of } = run(work(30, 80, before), [silence(10 * 3600)], work(30, 45, before));
    const [drop, ...others] = of('def-drop');
    expect(others).toEqual([]);
    expect(drop?.severity).toBe('warning');
    expect(drop?.values.litres).toBeCloseTo(0.35 * 30, 0);
  });

  it('are no drop when the engine ran unseen meanwhile', () => {
    const { of } = run(work(30, 80, before), [silence(6 * 3600)], work(30, 45, { ...before, engineHours: 106 }));
    expect(of('def-drop')).toEqual([]);
  });

  it('are no drop when it was dosed: 3 L/h for four hours', () => {
    const { of } = run(minutes(240, (m) => ({ ...working, defLevelPct: 90 - m / 6, defDosingGPerH: 3270 })));
    expect(of('def-drop')).toEqual([]);
  });

  it('from and to the ends of the scale may be the sensor, and are only a notice', () => {
    const { of } = run(work(30, 60, before), work(30, 0, before));
    expect(of('def-drop').map((f) => [f.severity, f.evidence.mayBeSensor])).toEqual([['notice', true]]);
  });
});

describe('low DEF', () => {
  it('is raised under 10 % (common practice), severe under 2.5 %, cleared at 15 %', () => {
    const down = run(minutes(120, (m) => ({ ...working, defLevelPct: 20 - m / 10, defDosingGPerH: 1960 })));
    const [low, ...others] = down.of('def-low');
    expect(others).toEqual([]);
    expect(low?.severity).toBe('warning');
    expect(low?.endedMs).toBeNull();
    expect(run(work(30, 12), work(30, 11)).of('def-low')).toEqual([]);
    expect(run(work(30, 2)).of('def-low')[0]?.severity).toBe('severe');
    const filled = run(work(20, 8), stop(10, 80), work(20, 80)).of('def-low');
    expect(filled).toHaveLength(1);
    expect(filled[0]?.endedMs).not.toBeNull();
  });
});

describe('time to the low level', () => {
  it('is what is left over the use of the machine: 6 L at 2 L/h are 3 h', () => {
    const level = (m: number) => 50 - (m * 100) / 60 / 15 / 2;
    const { of } = run(minutes(360, (m) => ({ ...working, defLevelPct: level(m), defDosingGPerH: 2180 })));
    const [forecast, ...others] = of('def-empty-forecast');
    expect(others).toEqual([]);
    // After 6 h of 2 L/h from 50 % of 30 L, 10 % (3 L) is nought hours away; said last at the full hour before.
    expect(forecast?.values.meanLPerH).toBeCloseTo(2, 2);
    expect(forecast?.values.hours).toBeCloseTo((((level(300) - 10) / 100) * 30) / 2, 0);
    expect(forecast?.evidence.from).toBe('dosing');
  });

  it('ends with a fill, also where a full tank lasts hardly longer', () => {
    const hours = (count: number, from: number) =>
      minutes(count * 60, (m) => ({ ...working, defLevelPct: from - (m * 100) / 60 / 15 / 2, defDosingGPerH: 2180 }));
    const { of } = run(hours(6, 60), stop(10, 75), hours(1, 75));
    const [forecast, ...others] = of('def-empty-forecast');
    expect(others).toEqual([]);
    // 65 % of 30 L at 2 L/h are 9.75 h: over 8, under 12.
    expect(forecast?.endedMs).not.toBeNull();
    expect(forecast?.values.saidHours as number).toBeLessThan(8);
  });

  it('says nothing with a full tank, nor before three hours are known', () => {
    expect(
      run(minutes(300, () => ({ ...working, defLevelPct: 90, defDosingGPerH: 2180 }))).of('def-empty-forecast'),
    ).toEqual([]);
    expect(
      run(minutes(120, () => ({ ...working, defLevelPct: 25, defDosingGPerH: 2180 }))).of('def-empty-forecast'),
    ).toEqual([]);
  });

  it('has a range around it that narrows with knowledge and closes without spread', () => {
    expect(hoursUntilUsed(6, { meanLPerH: 2, varLPerH: 0, hours: 10 })).toEqual({
      hours: 3,
      lowHours: 3,
      highHours: 3,
    });
    // Worked by hand: t^2 (4 - 2.706 x 0.25 / 10) - t (24 + 0.6765) + 36 = 0, that is t = (24.6765 -+ 6.532) / 7.8647.
    const left = hoursUntilUsed(6, { meanLPerH: 2, varLPerH: 0.25, hours: 10 });
    expect(left?.lowHours).toBeCloseTo(2.307, 2);
    expect(left?.highHours).toBeCloseTo(3.968, 2);
    fc.assert(
      fc.property(
        fc.double({ min: 0, max: 500, noNaN: true }),
        fc.double({ min: 0.01, max: 50, noNaN: true }),
        fc.double({ min: 0, max: 100, noNaN: true }),
        fc.integer({ min: 1, max: 24 }),
        (amountL, meanLPerH, varLPerH, hours) => {
          const found = hoursUntilUsed(amountL, { meanLPerH, varLPerH, hours });
          if (found === null) throw new Error('null');
          expect(found.lowHours).toBeLessThanOrEqual(found.hours * (1 + 1e-9));
          expect(found.highHours ?? Number.POSITIVE_INFINITY).toBeGreaterThanOrEqual(found.hours * (1 - 1e-9));
          const longer = hoursUntilUsed(amountL + 1, { meanLPerH, varLPerH, hours });
          expect(longer?.lowHours).toBeGreaterThanOrEqual(found.lowHours * (1 - 1e-9));
        },
      ),
    );
    // Pinned: an amount so small that its square is nought.
    const none = { hours: 0, lowHours: 0, highHours: 0 };
    expect(hoursUntilUsed(5e-324, { meanLPerH: 0.01, varLPerH: 0, hours: 1 })).toEqual(none);
    expect(hoursUntilUsed(6, { meanLPerH: 0, varLPerH: 0, hours: 5 })).toBeNull();
  });
});

describe('DEF quality', () => {
  const tank = (count: number, values: Segment['values']) => work(count, 60, { defTempC: 15, ...values });
  it('inside ISO 22241-1, 31.8 to 33.2 %, and a sensor tolerance of 1.5 says nothing', () => {
    for (const pct of [30.5, 31.8, 32.5, 33.2, 34.5]) {
      expect(run(tank(40, { defConcentrationPct: pct })).of('def-quality'), `${pct}`).toEqual([]);
    }
  });

  it('outside for ten minutes is a finding, with the ammonia that is left of it', () => {
    const [weak] = run(tank(10, { defConcentrationPct: 32.5 }), tank(30, { defConcentrationPct: 25 })).of(
      'def-quality',
    );
    expect(weak?.values).toMatchObject({ why: 'too-weak', concentrationPct: 25, lowPct: 31.8, highPct: 33.2 });
    // Worked example of the domain notes 4.2: 25 % urea gives 0.769 of the ammonia.
    expect(weak?.evidence.ammoniaRatio).toBe(0.769);
    expect(
      run(tank(9, { defConcentrationPct: 25 }), tank(30, { defConcentrationPct: 32.5 })).of('def-quality'),
    ).toEqual([]);
    expect(run(tank(30, { defConcentrationPct: 37 })).of('def-quality')[0]?.values.why).toBe('too-strong');
  });

  it('takes the word of the property state for diesel, and ends when it was right for as long', () => {
    const { of } = run(tank(30, { defPropertyState: 2 }), tank(30, { defPropertyState: 3 }));
    const [diesel, ...others] = of('def-quality');
    expect(others).toEqual([]);
    expect(diesel?.severity).toBe('severe');
    expect(diesel?.endedMs).not.toBeNull();
    expect(run(tank(30, { defPropertyState: 12 })).of('def-quality')).toEqual([]);
  });

  it('judges nothing while the tank is frozen', () => {
    expect(run(work(40, 60, { defTempC: -15, defConcentrationPct: 20 })).of('def-quality')).toEqual([]);
  });
});

describe('DEF in frost', () => {
  const evening = (pct: number, airC: number) =>
    run(work(20, pct, { ambientTempC: airC }), stop(5, pct, { ambientTempC: airC })).of('def-frost');
  it('advises at the stop: a quarter is right, brim-full can burst (common practice; 93 % from 7 % growth)', () => {
    expect(evening(25, -15)).toEqual([]);
    expect(evening(96, -15).map((f) => [f.values.advice, f.severity])).toEqual([['burst-risk', 'warning']]);
    expect(evening(70, -15).map((f) => [f.values.advice, f.severity])).toEqual([['fuller-than-needed', 'notice']]);
    expect(evening(6, -15).map((f) => f.values.advice)).toEqual(['too-low']);
    expect(evening(96, -9)).toHaveLength(1);
    expect(evening(96, 3)).toEqual([]);
  });

  it('is not repeated at each stop', () => {
    const cold = { ambientTempC: -15 };
    const { of } = run(work(20, 70, cold), stop(5, 70, cold), work(20, 70, cold), stop(5, 70, cold));
    expect(of('def-frost')).toHaveLength(1);
  });

  const heated = (count: number, defTempC: (minute: number) => number) =>
    run(minutes(count, (m) => ({ ...working, ambientTempC: -20, defTempC: defTempC(m), defTankHeaterPct: 100 })));
  it('finds a heater that does not warm solid ice in half an hour', () => {
    expect(heated(29, () => -20).of('def-heater')).toEqual([]);
    expect(
      heated(40, () => -20)
        .of('def-heater')
        .map((f) => f.values.why),
    ).toEqual(['no-rise']);
    expect(heated(60, (m) => Math.min(-12, -20 + m)).of('def-heater')).toEqual([]);
  });

  it('finds a thaw that takes over 70 min (from memory of the rules for cold starts)', () => {
    expect(
      heated(80, (m) => Math.min(-11, -20 + m))
        .of('def-heater')
        .map((f) => f.values.why),
    ).toEqual(['not-thawed']);
    expect(heated(80, (m) => -20 + m / 4).of('def-heater')).toEqual([]);
  });
});

describe('DEF use against fuel', () => {
  const hours = (count: number, ratio: number) =>
    minutes(count * 60, () => ({ ...working, defLevelPct: 60, fuelRateLPerH: 40, defDosingGPerH: 40 * ratio * 1090 }));
  it('is found when it leaves its own baseline by a quarter, either way, and says when it is back', () => {
    const [less, ...others] = run(hours(8, 0.06), hours(3, 0.03)).of('def-consumption');
    expect(others).toEqual([]);
    expect(less?.values.direction).toBe('less');
    expect(less?.values.baselinePct).toBeCloseTo(6, 1);
    expect(less?.values.changePct).toBe(-50);
    expect(run(hours(8, 0.06), hours(3, 0.09)).of('def-consumption')[0]?.values.direction).toBe('more');
    const back = run(hours(8, 0.06), hours(3, 0.03), hours(3, 0.06)).of('def-consumption');
    expect(back.map((f) => f.endedMs !== null)).toEqual([true]);
  });

  it('is nothing at any steady ratio: 2 % or 8 %, each machine is its own measure', () => {
    for (const ratio of [0.02, 0.08]) expect(run(hours(12, ratio)).of('def-consumption')).toEqual([]);
  });

  it('does not care for idling: no dosing on a cold exhaust is no change', () => {
    const cold = minutes(600, () => ({
      engineSpeedRpm: 950,
      engineLoadPct: 8,
      exhaustTempC: 130,
      fuelRateLPerH: 4,
      defDosingGPerH: 0,
      defLevelPct: 60,
    }));
    expect(run(hours(8, 0.06), cold, hours(3, 0.06)).of('def-consumption')).toEqual([]);
  });

  it('is told from the level where no dosing is sent', () => {
    let pct = 1000;
    const burn = (count: number, ratio: number) =>
      minutes(count * 60, () => {
        pct -= ((40 * ratio) / 60 / 30) * 100;
        return { ...working, defLevelPct: (pct % 80) + 10, fuelRateLPerH: 40 };
      });
    const { of } = run(burn(30, 0.05), burn(20, 0.08));
    expect(of('def-consumption').map((f) => [f.values.direction, f.evidence.from])).toEqual([['more', 'level']]);
  });
});
