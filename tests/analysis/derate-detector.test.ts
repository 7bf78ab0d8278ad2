import {
  derateEpisodes,
  type FaultEpisode,
  type Finding,
  fleetFaultTableSchema,
  unknownLamps,
} from '@warmbrick/analysis';
import { type ChannelName, machineProfileSchema } from '@warmbrick/signals';
import { recordingOf, type Segment } from '@warmbrick/testkit';
import { describe, expect, it } from 'vitest';
import { analyse } from './analyse.js';

type Values = Partial<Record<ChannelName, number>>;
const startMs = Date.UTC(2026, 2, 2, 6);
const work = (minutes: number, more: Values = {}): Segment => ({
  forS: minutes * 60,
  values: { engineSpeedRpm: 1700, engineLoadPct: 80, exhaustTempC: 390, ...more },
});
const still = (minutes: number): Segment => ({
  forS: minutes * 60,
  values: { engineSpeedRpm: 0, engineLoadPct: 0, exhaustTempC: 60, inducementSeverity: 0, torqueLimitPct: 0 },
});
const derates = (segments: readonly Segment[], ratedPowerKW = 200) =>
  analyse(recordingOf(segments, { stepS: 10 }), { ratedPowerKW }).of('derate');
const minute = (timeMs: number | null | undefined) =>
  timeMs === null || timeMs === undefined ? null : (timeMs - startMs) / 60_000;

describe('derates by what is broadcast', () => {
  it('inducement severity 3 to 5, not warnings and not the temporary override', () => {
    const found = derates([
      work(10, { inducementSeverity: 0 }),
      work(30, { inducementSeverity: 2 }),
      work(20, { inducementSeverity: 3 }),
      work(10, { inducementSeverity: 5 }),
      work(10, { inducementSeverity: 0 }),
      work(20, { inducementSeverity: 6 }),
    ]);
    expect(found).toHaveLength(1);
    expect(minute(found[0]?.startedMs)).toBe(40);
    expect(minute(found[0]?.endedMs)).toBe(70);
    expect(found[0]?.severity).toBe('severe');
    expect(found[0]?.values).toMatchObject({ peakSeverity: 5, leastTorqueRatio: null, runningS: 1800 });
    expect(found[0]?.evidence).toMatchObject({ bySeverity: true, byTorqueLimit: false });
  });

  it('a torque limit under the usual one at that speed, with the power and the hours that it cost', () => {
    const found = derates([
      work(60, { torqueLimitPct: 96 }),
      work(60, { torqueLimitPct: 48 }),
      work(10, { torqueLimitPct: 96 }),
    ]);
    expect(found).toHaveLength(1);
    expect(Math.abs((minute(found[0]?.startedMs) as number) - 60)).toBeLessThanOrEqual(1);
    // Own arithmetic: half of 200 kW, and half of an hour.
    expect(found[0]?.values).toMatchObject({ leastTorqueRatio: 0.5, lostPowerKW: 100 });
    expect(Math.abs((found[0]?.values.lostS as number) - 1800)).toBeLessThanOrEqual(180);
  });

  it('no torque limit that only goes with the speed, as a sound engine sends it', () => {
    // Source: a recorded truck in sound state, 38 % at idle and 46-61 % while driving.
    const found = derates([
      work(60, { torqueLimitPct: 55 }),
      work(40, { engineSpeedRpm: 900, engineLoadPct: 10, torqueLimitPct: 38 }),
      ...Array.from({ length: 30 }, (_, k) => work(2, { torqueLimitPct: 48 + 3 * (k % 5) })),
    ]);
    expect(found).toEqual([]);
  });

  it('no torque limit before its past is known, nor one low minute', () => {
    expect(derates([work(75, { torqueLimitPct: 60 })])).toEqual([]);
    const blips = Array.from({ length: 10 }, () => [work(9, { torqueLimitPct: 96 }), work(1, { torqueLimitPct: 40 })]);
    expect(derates([work(60, { torqueLimitPct: 96 }), ...blips.flat()])).toEqual([]);
  });

  it('a derate request, from a machine that also sends that there is none', () => {
    const found = derates([
      work(10, { derateRequestPct: 0 }),
      work(20, { derateRequestPct: 40 }),
      work(10, { derateRequestPct: 0 }),
    ]);
    expect(found[0]?.values).toMatchObject({ mostRequestPct: 40, leastTorqueRatio: 0.6, lostPowerKW: 80 });
    expect(derates([work(60, { derateRequestPct: 100 })])).toEqual([]);
  });

  it('torque mode 8 only when it lasts, as a notice', () => {
    expect(
      derates([work(9, { torqueModeState: 8 }), work(2, { torqueModeState: 1 }), work(9, { torqueModeState: 8 })]),
    ).toEqual([]);
    const found = derates([
      work(20, { torqueModeState: 1 }),
      work(30, { torqueModeState: 8 }),
      work(10, { torqueModeState: 1 }),
    ]);
    expect(found[0]?.severity).toBe('notice');
    expect(Math.abs((minute(found[0]?.startedMs) as number) - 20)).toBeLessThanOrEqual(1);
  });

  it('one derate over a night with the engine off, and over a short healing', () => {
    const found = derates([
      work(30, { inducementSeverity: 3 }),
      still(600),
      work(20, { inducementSeverity: 3 }),
      work(2, { inducementSeverity: 0 }),
      work(20, { inducementSeverity: 3 }),
    ]);
    expect(found).toHaveLength(1);
    expect(found[0]?.endedMs).toBeNull();
    expect(Math.abs((found[0]?.values.runningS as number) - 70 * 60)).toBeLessThanOrEqual(180);
  });
});

describe('derate episodes', () => {
  const profile = machineProfileSchema.parse({ ratedPowerKW: 200 });
  const fault = (spn: number, fmi: number, fromMin: number, toMin: number | null): FaultEpisode => ({
    id: `m~fault~0.${spn}.${fmi}~${fromMin}`,
    machineId: 'm',
    spn,
    fmi,
    conversionMethod: 0,
    sourceAddress: 0,
    startedMs: startMs + fromMin * 60_000,
    absentAtMs: null,
    endedMs: toMin === null ? null : startMs + toMin * 60_000,
    endedBy: toMin === null ? null : 'list',
    lastSeenMs: startMs + fromMin * 60_000,
    occurrences: 1,
    reportedCount: null,
    lamps: unknownLamps,
    flash: 255,
    isPreviouslyActiveOnly: false,
    origin: 'dm1',
  });
  const found = (segments: readonly Segment[]): Finding[] => derates(segments);

  it('join a finding and the codes around it into one', () => {
    const findings = found([
      work(60, { inducementSeverity: 1, torqueLimitPct: 100 }),
      work(60, { inducementSeverity: 3, torqueLimitPct: 76 }),
    ]);
    const [episode, ...others] = derateEpisodes(
      findings,
      [fault(1569, 31, 62, null), fault(5246, 16, 60, null), fault(110, 0, 10, 20)],
      { profile },
    );
    expect(others).toEqual([]);
    expect(episode).toMatchObject({
      startedMs: startMs + 60 * 60_000,
      endedMs: null,
      level: 'low',
      signs: ['derate-code', 'inducement-code', 'inducement-severity', 'torque-limit'],
      leastTorqueRatio: 0.76,
      lostPowerKW: 48,
      peakSeverity: 3,
    });
    expect(episode?.codeIds).toHaveLength(2);
  });

  it('take codes alone, parted by more than a quarter of an hour', () => {
    const episodes = derateEpisodes([], [fault(1569, 31, 0, 30), fault(1569, 31, 40, 50), fault(3644, 31, 90, 95)], {
      profile,
    });
    expect(episodes.map(({ startedMs, endedMs }) => [minute(startedMs), minute(endedMs)])).toEqual([
      [0, 50],
      [90, 95],
    ]);
    expect(episodes[0]).toMatchObject({ level: 'unclear', lostPowerKW: null, signs: ['derate-code'] });
  });

  it('take no warning for a derate: 5246 with FMI 15, lamps, and codes of a class', () => {
    const warnings = [
      fault(5246, 15, 0, null),
      fault(5245, 31, 0, null),
      fault(4096, 31, 0, null),
      fault(1109, 15, 0, 1),
    ];
    expect(derateEpisodes([], warnings.slice(0, 3), { profile })).toEqual([]);
  });

  it('say what a code of a class says, and how severe the last step is', () => {
    const [episode] = derateEpisodes([], [fault(4096, 31, 0, null), fault(5246, 0, 30, null)], { profile });
    expect(episode).toMatchObject({ saidClass: 'level', level: 'severe', startedMs: startMs + 30 * 60_000 });
  });

  it('take a code that the fleet has configured', () => {
    const fleetTable = fleetFaultTableSchema.parse([{ spn: 521_000, text: 'power reduced', isDerateCode: true }]);
    expect(derateEpisodes([], [fault(521_000, 7, 0, null)], { profile, fleetTable })[0]?.signs).toEqual([
      'configured-code',
    ]);
    expect(derateEpisodes([], [fault(521_000, 7, 0, null)], { profile })).toEqual([]);
  });
});
