import {
  builtInSchedules,
  type ClockLine,
  type FaultEpisode,
  type HoursReading,
  type InducementSchedule,
  inducementClock,
  inducementScheduleSchema,
  schedulesInForce,
  unknownLamps,
} from '@warmbrick/analysis';
import { describe, expect, it } from 'vitest';

const startMs = Date.UTC(2026, 2, 2, 6);
const hourMs = 3_600_000;
const scheduleOf = (id: string): InducementSchedule => {
  const schedule = builtInSchedules.find((one) => one.id === id);
  if (schedule === undefined) throw new Error(`no schedule ${id}`);
  return schedule;
};
const fault = (spn: number, fmi: number, fromH: number, toH: number | null = null): FaultEpisode => ({
  id: `m~fault~0.${spn}.${fmi}~${fromH}`,
  machineId: 'm',
  spn,
  fmi,
  conversionMethod: 0,
  sourceAddress: 0,
  startedMs: startMs + fromH * hourMs,
  absentAtMs: null,
  endedMs: toH === null ? null : startMs + toH * hourMs,
  endedBy: toH === null ? null : 'list',
  lastSeenMs: startMs + (toH ?? fromH) * hourMs,
  occurrences: 1,
  reportedCount: null,
  lamps: unknownLamps,
  flash: 255,
  isPreviouslyActiveOnly: false,
  origin: 'dm1',
});
/** The engine runs for eight hours a day from the start. */
const engineHours: HoursReading[] = Array.from({ length: 20 }, (_, day) => [
  { timeMs: startMs + day * 24 * hourMs, engineHours: 1000 + 8 * day },
  { timeMs: startMs + (day * 24 + 8) * hourMs, engineHours: 1008 + 8 * day },
]).flat();
const lineAt = (
  id: string,
  faults: readonly FaultEpisode[],
  atH: number,
  more: { defLevelPct?: number } = {},
): ClockLine | undefined =>
  inducementClock({ schedule: scheduleOf(id), faults, engineHours, atMs: startMs + atH * hourMs, ...more }).lines[0];

describe('the inducement clock', () => {
  it('counts engine hours, not the time of day', () => {
    // Ten engine hours after 06:00 on a day of eight are two hours into the next one. Source of 10 h: domain notes 7.2, from memory.
    const line = lineAt('eu-stage-v', [fault(3364, 18, 0)], 24);
    expect(line).toMatchObject({ inducementClass: 'quality', activeH: 8, isUpperBound: false });
    expect(line?.next).toMatchObject({ level: 'low', hoursLeft: 2, torqueCutRatio: 0.25, fromMemory: true });
    expect(line?.steps.map(({ hoursLeft, isReached }) => [hoursLeft, isReached])).toEqual([
      [0, true],
      [2, false],
      [12, false],
    ]);
    expect(line?.clears).toContain('DEF of the right quality');
  });

  it.each([
    // Source: trade press on the guidance of 12 August 2025 (36 h) and on the practice before (4 h); 100 h from memory.
    ['us-nonroad-36h', 36, false],
    ['us-nonroad-4h', 4, false],
    ['stepped-minutes', 2.5, false],
  ])('%s takes power after %d h', (id, hours, fromMemory) => {
    const line = lineAt(id, [fault(5394, 5, 0)], 0);
    expect(line?.next).toMatchObject({ hoursLeft: hours, fromMemory });
  });

  it('marks the step that is from memory in a schedule that is not', () => {
    const steps = lineAt('us-nonroad-36h', [fault(5394, 5, 0)], 0)?.steps;
    expect(steps?.map(({ fromMemory }) => fromMemory)).toEqual([false, false, true]);
    const clock = inducementClock({
      schedule: scheduleOf('us-nonroad-36h'),
      faults: [fault(5394, 5, 0)],
      engineHours,
      atMs: startMs,
    });
    expect(clock.fromMemory).toBe(true);
  });

  it('takes the short steps for a fault that comes again within forty hours', () => {
    const again = [fault(5394, 5, 0, 1), fault(5394, 5, 5)];
    expect(lineAt('stepped-minutes', again, 5)).toMatchObject({ isRepeat: true, next: { hoursLeft: 0.08 } });
    expect(lineAt('stepped-minutes', [fault(5394, 5, 0, 1), fault(5394, 5, 24 * 6)], 24 * 6)?.isRepeat).toBe(false);
  });

  it('goes by the level of the tank where the schedule does', () => {
    const line = lineAt('eu-stage-v', [fault(1761, 17, 0)], 4, { defLevelPct: 6 });
    expect(line?.next).toMatchObject({ level: 'low', hoursLeft: null, atLevelPct: 2.5, isReached: false });
    expect(line?.steps[0]?.isReached).toBe(true);
    expect(lineAt('eu-stage-v', [fault(1761, 17, 0)], 4)?.steps.every(({ isReached }) => !isReached)).toBe(true);
  });

  it('says nothing of what is not active, not yet there, or no cause', () => {
    const none = [fault(3364, 18, 0, 2), fault(3364, 18, 50), fault(5246, 16, 0), fault(96, 1, 0)];
    expect(lineAt('eu-stage-v', none, 10)).toBeUndefined();
  });

  it('takes the time of day where there are no hours, and says so', () => {
    const clock = inducementClock({
      schedule: scheduleOf('eu-stage-v'),
      faults: [fault(3364, 18, 0)],
      engineHours: [],
      atMs: startMs + 5 * hourMs,
    });
    expect(clock.lines[0]).toMatchObject({ activeH: 5, isUpperBound: true });
    expect(clock.caution).toContain('may not be defeated');
  });
});

describe('schedules', () => {
  it('are dated: which of them hold on a day', () => {
    const ids = (day: string) => schedulesInForce(builtInSchedules, Date.parse(day)).map(({ id }) => id);
    expect(ids('2025-08-11T12:00:00Z')).toContain('us-nonroad-4h');
    expect(ids('2025-08-12T12:00:00Z')).not.toContain('us-nonroad-4h');
    expect(ids('2025-08-12T12:00:00Z')).toContain('us-nonroad-36h');
    expect(ids('2018-06-01T12:00:00Z')).not.toContain('eu-stage-v');
  });

  it('take more from a user, and refuse what is wrong', () => {
    const own = {
      id: 'site-rule',
      title: 'Rule of the site',
      region: 'Skarnfell',
      validFrom: null,
      validTo: null,
      source: 'typed in',
      fromMemory: false,
      paths: [{ classes: ['dosing'], steps: [{ text: 'power goes', level: 'low', afterH: 5 }], clears: 'repair' }],
    };
    const schedule = inducementScheduleSchema.parse(own);
    const clock = inducementClock({ schedule, faults: [fault(5435, 7, 0)], engineHours, atMs: startMs + 2 * hourMs });
    expect(clock.lines[0]?.next).toMatchObject({ hoursLeft: 3, fromMemory: false });
    expect(inducementScheduleSchema.safeParse({ ...own, validFrom: '12.8.2025' }).success).toBe(false);
    expect(inducementScheduleSchema.safeParse({ ...own, paths: [] }).success).toBe(false);
  });
});
