import { off, recordingOf, type Segment, silence } from '@warmbrick/testkit';
import { describe, expect, it } from 'vitest';
import { analyse } from './analyse.js';

const base = { engineSpeedRpm: 1700, engineLoadPct: 75, exhaustTempC: 390 };
const idling = { engineSpeedRpm: 950, engineLoadPct: 10, exhaustTempC: 200 };

/** So many seconds at a regeneration state and soot load. */
const at = (forS: number, state: number, sootPct: number, more: Segment['values'] = base): Segment => ({
  forS,
  values: { ...more, activeRegenState: state, dpfSootPct: sootPct, dpfOutletTempC: state === 1 ? 610 : 380 },
});

describe('active regenerations', () => {
  it('are completed when the soot came down, with soot before and after and the hottest outlet', () => {
    const { of } = analyse(
      recordingOf([at(300, 0, 96), at(120, 2, 98), at(600, 1, 98), at(900, 1, 55), at(200, 1, 22), at(300, 0, 22)]),
    );
    const [done, ...others] = of('regeneration');
    expect(others).toEqual([]);
    expect(done?.severity).toBe('info');
    expect(done?.values).toMatchObject({
      outcome: 'completed',
      why: null,
      durationS: 1700,
      sootBeforePct: 98,
      sootAfterPct: 22,
      peakOutletTempC: 610,
    });
    expect((done?.endedMs as number) - (done?.startedMs as number)).toBe(1_700_000);
  });

  it('are aborted by stopping the engine, by the load going, by an inhibit, or nobody can say', () => {
    const why = (...after: Segment[]) =>
      analyse(recordingOf([at(300, 0, 96), at(300, 1, 95), ...after]))
        .of('regeneration')
        .map((f) => [f.values.outcome, f.values.why, f.severity]);
    expect(why(off(600))).toEqual([['aborted', 'engine-stopped', 'warning']]);
    expect(why(at(120, 1, 94, idling), at(600, 0, 94, idling))).toEqual([['aborted', 'load-dropped', 'warning']]);
    expect(why(at(600, 0, 94, { ...base, regenInhibitedState: 1 }))).toEqual([['aborted', 'inhibited', 'warning']]);
    expect(why(at(600, 0, 94))).toEqual([['aborted', 'unknown', 'warning']]);
    expect(why(silence(1500), at(600, 0, 94))).toEqual([['unknown', 'no-samples', 'info']]);
  });

  it('go on over a flicker of under a minute, and are a finding while they go on', () => {
    const flicker = analyse(recordingOf([at(300, 1, 95), at(50, 0, 90), at(600, 1, 20)])).of('regeneration');
    expect(flicker.map((f) => [f.values.outcome, f.values.durationS, f.endedMs])).toEqual([['going-on', 949, null]]);
    expect(analyse(recordingOf([at(50, 1, 95), at(300, 0, 95)])).of('regeneration')).toEqual([]);
  });

  it('without a soot signal rest on the time, and say so', () => {
    const blind = (forS: number) =>
      analyse(
        recordingOf([
          { forS, values: { ...base, activeRegenState: 1 } },
          { forS: 300, values: { ...base, activeRegenState: 0 } },
        ]),
      ).of('regeneration')[0];
    expect(blind(1300)?.values.outcome).toBe('completed');
    expect(blind(1300)?.evidence.hasSootSignal).toBe(false);
    expect(blind(400)?.values.outcome).toBe('aborted');
  });
});

describe('regenerations that are held off', () => {
  const held = (forS: number, inhibited: number): Segment =>
    at(forS, 2, 104, { ...base, regenInhibitedState: inhibited });

  it('are a finding after half an hour of inhibit, not a minute before', () => {
    expect(analyse(recordingOf([held(1740, 1), at(600, 1, 90)])).of('regeneration-inhibited')).toEqual([]);
    const [found] = analyse(recordingOf([held(1900, 1), at(600, 1, 90)])).of('regeneration-inhibited');
    expect(found?.values).toMatchObject({ why: 'inhibited', inhibitedS: 1900, peakSootPct: 104 });
    expect(found?.severity).toBe('warning');
    expect(found?.endedMs).not.toBeNull();
  });

  it('are a finding after an hour of waiting when nobody says why', () => {
    expect(analyse(recordingOf([held(3500, 0), at(600, 1, 90)])).of('regeneration-inhibited')).toEqual([]);
    const [found] = analyse(recordingOf([held(3700, 0), at(600, 1, 90)])).of('regeneration-inhibited');
    expect(found?.values.why).toBe('not-started');
  });

  it('go on over a stop: the need does not end with the key', () => {
    const { of } = analyse(recordingOf([held(1000, 1), off(3600), held(1000, 1)]));
    expect(of('regeneration-inhibited').map((f) => [f.values.inhibitedS, f.endedMs])).toEqual([[1999, null]]);
  });

  it('say nothing on a machine that sends no state', () => {
    const blind = recordingOf([{ forS: 9000, values: { ...base, dpfSootPct: 120 } }]);
    expect(analyse(blind).of('regeneration-inhibited')).toEqual([]);
  });
});
