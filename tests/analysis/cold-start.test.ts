import { recordingOf, type Segment } from '@warmbrick/testkit';
import { describe, expect, it } from 'vitest';
import { analyse } from './analyse.js';

const frost = { coolantTempC: -12, ambientTempC: -14 };
const stand = (more: Segment['values'] = {}): Segment => ({
  forS: 60,
  values: { engineSpeedRpm: 0, engineLoadPct: 0, exhaustTempC: -14, ...frost, ...more },
});
const idle = (forS: number, exhaustTempC: number, more: Segment['values'] = {}): Segment => ({
  forS,
  values: { engineSpeedRpm: 950, engineLoadPct: 10, exhaustTempC, ...frost, ...more },
});
const load = (forS: number, exhaustTempC: number): Segment => ({
  forS,
  values: { engineSpeedRpm: 1700, engineLoadPct: 75, exhaustTempC, ...frost, coolantTempC: 20 },
});
const starts = (...segments: Segment[]) => analyse(recordingOf(segments)).of('cold-start');

describe('cold starts', () => {
  it('are reported with warm-up, what the cold called for, and the time to the dosing release', () => {
    const [start, ...others] = starts(stand(), idle(600, 120), load(300, 180), load(600, 260));
    expect(others).toEqual([]);
    expect(start?.severity).toBe('info');
    // Wanted: 180 s and 6 s for each kelvin from 20 C down to -14 C.
    expect(start?.values).toMatchObject({ grade: 'as-wanted', warmupS: 600, wantedS: 384, releaseAfterS: 900 });
    expect(start?.values).toMatchObject({ coolantTempC: -12, ambientTempC: -14 });
  });

  it('are graded when the warm-up was short', () => {
    const [start] = starts(stand(), idle(60, 120), load(900, 260));
    expect(start?.values).toMatchObject({ grade: 'short-warm-up', warmupS: 60 });
  });

  it('that never get warm enough to dose within 70 min are a notice (from memory of the rules)', () => {
    const [never] = starts(stand(), idle(4300, 130));
    expect(never?.values).toMatchObject({ grade: 'never-warm', releaseAfterS: null });
    expect(never?.severity).toBe('notice');
    expect(starts(stand(), idle(4000, 130))).toEqual([]);
    expect(starts(stand(), idle(1200, 130), stand()).map((f) => f.values.grade)).toEqual(['as-wanted']);
  });

  it('are none without frost, with a warm engine, without coolant temperature, or when the start was not seen', () => {
    const mild = { ambientTempC: 8 };
    expect(starts(stand(mild), idle(600, 120, mild), { ...load(900, 260) })).toEqual([]);
    const warm = { coolantTempC: 70 };
    expect(starts(stand(warm), idle(600, 120, warm), load(900, 260))).toEqual([]);
    expect(starts(idle(600, 120), load(900, 260))).toEqual([]);
    const blind = (s: Segment): Segment => {
      const { coolantTempC: _coolant, ...values } = s.values ?? {};
      return { forS: s.forS, values };
    };
    expect(starts(...[stand(), idle(600, 120), load(900, 260)].map(blind))).toEqual([]);
  });
});
