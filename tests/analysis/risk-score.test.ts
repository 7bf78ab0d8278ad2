import type { RiskScore } from '@warmbrick/analysis';
import { idle, off, recordingOf, type Segment, work } from '@warmbrick/testkit';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { analyse } from './analyse.js';

const score = (...segments: Segment[]) => analyse(recordingOf(segments, { stepS: 10 })).summary.score;
const value = (...segments: Segment[]) => (score(...segments) as RiskScore).value;

const duty = fc.array(
  fc.record({
    forS: fc.integer({ min: 60, max: 7200 }),
    kind: fc.constantFrom('idle' as const, 'work' as const),
    tempC: fc.integer({ min: 60, max: 550 }),
  }),
  { minLength: 1, maxLength: 8 },
);
const segmentsOf = (list: readonly { forS: number; kind: 'idle' | 'work'; tempC: number }[], addedC = 0): Segment[] =>
  list.map(({ forS, kind, tempC }) => (kind === 'idle' ? idle(forS, tempC + addedC) : work(forS, tempC + addedC)));

describe('soot-risk score', () => {
  it('gives none to a machine that did not run', () => {
    expect(score(off(7200))).toBeNull();
  });

  it('is low after a good shift, middling after a light one, high after a day of cold idling', () => {
    const good = value(off(60), idle(300), work(4 * 3600, 390), idle(300), work(4 * 3600, 400), idle(300), off(60));
    const light = value(idle(600), work(8 * 3600, 280));
    const cold = value(off(60), ...[1, 2, 3, 4].flatMap(() => [idle(2 * 3600, 130), work(900, 220)]), off(60));
    expect(good).toBeLessThan(10);
    expect(light).toBeGreaterThan(good + 5);
    expect(cold).toBeGreaterThan(50);
  });

  it('adds up from its parts', () => {
    fc.assert(
      fc.property(duty, (list) => {
        const result = score(off(60), ...segmentsOf(list), off(60)) as RiskScore;
        const sum = Object.values(result.parts).reduce((a, b) => a + b, 0);
        expect(sum).toBeCloseTo(result.value, 6);
        expect(result.value).toBeGreaterThanOrEqual(0);
        expect(result.value).toBeLessThanOrEqual(100);
      }),
    );
  });

  it('is never raised by hotter running', () => {
    fc.assert(
      fc.property(duty, fc.integer({ min: 1, max: 200 }), (list, hotterC) => {
        expect(value(...segmentsOf(list, hotterC))).toBeLessThanOrEqual(value(...segmentsOf(list)) + 1e-9);
      }),
    );
  });

  it('is never lowered by a longer cold idle at the end', () => {
    fc.assert(
      fc.property(duty, fc.integer({ min: 60, max: 20_000 }), (list, longerS) => {
        const segments = segmentsOf(list);
        expect(value(...segments, idle(600 + longerS, 130))).toBeGreaterThanOrEqual(value(...segments, idle(600, 130)));
      }),
    );
  });

  /** The same running, with the dosing and soot that the machine sends: heat changes neither. */
  const dosed = (list: readonly { forS: number; kind: 'idle' | 'work'; tempC: number }[], addedC = 0): Segment[] =>
    segmentsOf(list, addedC).map((segment, k) => ({
      ...segment,
      values: { ...segment.values, defDosingGPerH: list[k]?.kind === 'work' ? 500 : 0, fuelRateLPerH: 9 },
    }));

  it('is never raised by hotter running with the same dosing sent', () => {
    fc.assert(
      fc.property(duty, fc.integer({ min: 1, max: 200 }), (list, hotterC) => {
        expect(value(...dosed(list, hotterC))).toBeLessThanOrEqual(value(...dosed(list)) + 1e-9);
      }),
    );
  });

  it('is never lowered by a longer cold idle where the dosing is sent', () => {
    fc.assert(
      fc.property(duty, fc.integer({ min: 60, max: 20_000 }), (list, longerS) => {
        const cold = (forS: number) => dosed([{ forS, kind: 'idle', tempC: 130 }]);
        expect(value(...dosed(list), ...cold(600 + longerS))).toBeGreaterThanOrEqual(
          value(...dosed(list), ...cold(600)),
        );
      }),
    );
  });

  it('is not lowered when the dosing is no longer sent, and has less confidence without it', () => {
    const clogging = dosed([{ forS: 6 * 3600, kind: 'work', tempC: 215 }]);
    const without = (segments: readonly Segment[]): Segment[] =>
      segments.map(({ forS, values }) => {
        const { defDosingGPerH: _none, ...rest } = values ?? {};
        return { forS, values: rest };
      });
    const later = dosed([{ forS: 1800, kind: 'work', tempC: 215 }]);
    expect(value(...clogging, ...without(later))).toBeGreaterThanOrEqual(value(...clogging));
    const blind = score(...without(clogging)) as RiskScore;
    expect(blind.confidence).toBeLessThan((score(...clogging) as RiskScore).confidence);
    expect(blind.missing.join()).toContain('dosing');
  });

  it('follows deposits by the conversion that they cost', () => {
    const shift = (noxOutPpm: number): Segment[] => [
      {
        forS: 3 * 3600,
        values: { engineSpeedRpm: 1600, engineLoadPct: 60, exhaustTempC: 310, ...doses, noxOutPpm: 25 },
      },
      {
        forS: 2 * 3600,
        values: { engineSpeedRpm: 1500, engineLoadPct: 35, exhaustTempC: 215, ...doses, noxOutPpm: 60 },
      },
      { forS: 3600, values: { engineSpeedRpm: 1600, engineLoadPct: 60, exhaustTempC: 310, ...doses, noxOutPpm } },
    ];
    const doses = { defDosingGPerH: 900, noxInPpm: 500 };
    const copper = { catalystFamily: 'copper-zeolite', depositLimitG: 30 } as const;
    const of = (noxOutPpm: number) => analyse(recordingOf(shift(noxOutPpm), { stepS: 10 }), copper).summary;
    const [sound, clogged] = [of(25), of(300)];
    expect(clogged.load?.depositRatio).toBeGreaterThan(0.8);
    expect(sound.load?.depositRatio).toBeLessThan(0.4);
    expect(clogged.load?.isDepositMeasured).toBe(true);
    expect(clogged.score?.parts.deposits).toBeGreaterThan(70);
    expect(clogged.score?.value).toBeGreaterThan(sound.score?.value as number);
  });

  it('is not lowered by missing temperatures, and says so', () => {
    const blind = { forS: 7200, values: { engineSpeedRpm: 1700, engineLoadPct: 75 } };
    const before = score(idle(4 * 3600, 130)) as RiskScore;
    const after = score(idle(4 * 3600, 130), blind) as RiskScore;
    expect(after.value).toBeGreaterThanOrEqual(before.value);
    expect(after.confidence).toBeLessThan(before.confidence);
    expect(after.missing.join()).toContain('exhaust temperature');
  });

  it('has little confidence in half a minute', () => {
    const brief = score(work(30)) as RiskScore;
    expect(brief.confidence).toBeLessThan(0.1);
    expect(brief.missing.join()).toContain('running time');
  });

  it('advises minutes of hot work that would do, with the caution', () => {
    const segments = [idle(9 * 3600, 130)];
    const { advice, caution } = score(...segments) as RiskScore;
    const minutes = Number(/About (\d+) min/.exec(advice)?.[1]);
    expect(value(...segments, work(minutes * 60 + 60, 400))).toBeLessThan(30);
    expect(caution).toContain('keep people');
    expect(caution).toContain('manual');
  });

  it('rises with each hot stop, and more the shorter the cool-down', () => {
    const shift = (idleS: number) => value(off(60), work(3600), idle(idleS), off(60), work(3600), idle(idleS), off(60));
    expect(shift(0)).toBeGreaterThan(shift(150));
    expect(shift(150)).toBeGreaterThan(shift(301));
  });
});
