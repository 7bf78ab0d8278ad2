/** Watches a machine second by second and labels what happens. */

import type { MachineProfile } from '@warmbrick/signals';
import type { StopGrade, TruthEvent } from './truth.js';

/** An idle streak over this is over the limit, s. Source: common practice, not over one hour at a stretch. */
const idleLimitS = 3600;
/** Load or raised speed shorter than this does not end an idle streak, s. Source: engineering judgement. */
const blipS = 30;
/** Idle streaks shorter than this are not worth a label, s. Source: design decision. */
const shortestStreakS = 60;
/** Cool-down wanted before key-off, s. Source: common practice, about five minutes at base idle. */
const coolDownWantedS = 300;
/** Turbine metal that wants a cool-down after its last load. Source: domain notes 6. */
const turbineHotC = 200;
/** A hot stop is severe below this cool-down, s, or above this turbine temperature at the stop. Source: domain notes 6. */
const coolDownSevereS = 60;
const turbineSevereC = 350;
/** A start is cold below this coolant temperature. Source: engineering judgement. */
const coldStartC = 50;
/** Load that a cold engine should not see yet, %, and how long it has to last, s. Source: engineering judgement. */
const earlyLoadPct = 50;
const earlyLoadHoldS = 10;
/** Least warm-up of a cold engine, s. Source: common practice, a few minutes, longer the colder it is. */
const leastWarmUpS = 180;

export interface TruthReading {
  readonly timeMs: number;
  readonly speedRpm: number;
  readonly loadPct: number;
  readonly coolantTempC: number;
  readonly turbineMetalTempC: number;
}

/** Whether an engine turns by its own power. */
export function isRunning(speedRpm: number, profile: MachineProfile): boolean {
  return speedRpm >= profile.runningRpm;
}

/** Whether a running engine idles: near base idle and without load. */
export function isIdling(speedRpm: number, loadPct: number, profile: MachineProfile): boolean {
  const isNearBase = speedRpm <= profile.baseIdleRpm + profile.idleBandRpm;
  return isRunning(speedRpm, profile) && isNearBase && loadPct < profile.noLoadPct;
}

/** A run that is going on. */
interface Run {
  readonly startedMs: number;
  readonly coolantAtStartC: number;
  streakStartMs: number | null;
  /** Since when a streak is interrupted. */
  awayMs: number | null;
  lastLoadEndMs: number | null;
  metalAtLoadC: number | null;
  heavyMs: number | null;
  hasEarlyLoad: boolean;
  metalC: number;
}

/** A recorder that appends to the list. Takes one reading a second. */
export function createTruthRecorder(profile: MachineProfile, events: TruthEvent[]) {
  let run: Run | null = null;
  return {
    see(reading: TruthReading): void {
      if (!isRunning(reading.speedRpm, profile)) {
        if (run !== null) endRun(run, reading.timeMs, events);
        run = null;
        return;
      }
      run ??= beginRun(reading);
      run.metalC = reading.turbineMetalTempC;
      watchIdle(run, reading, { idles: isIdling(reading.speedRpm, reading.loadPct, profile), events });
      watchLoad(run, reading, events);
    },
    /** The run and the idle streak that go on at a time, as if they ended there. */
    ongoing(timeMs: number): TruthEvent[] {
      if (run === null) return [];
      const { startedMs, coolantAtStartC } = run;
      const begun: TruthEvent[] = [];
      if (run.streakStartMs !== null) endStreak({ ...run }, run.awayMs ?? timeMs, begun);
      const durationS = (timeMs - startedMs) / 1000;
      return [...begun, { kind: 'engine-run', startedMs, endedMs: timeMs, durationS, coolantAtStartC }];
    },
  };
}

function beginRun(reading: TruthReading): Run {
  return {
    startedMs: reading.timeMs,
    coolantAtStartC: reading.coolantTempC,
    streakStartMs: null,
    awayMs: null,
    lastLoadEndMs: null,
    metalAtLoadC: null,
    heavyMs: null,
    hasEarlyLoad: false,
    metalC: reading.turbineMetalTempC,
  };
}

function watchIdle(run: Run, reading: TruthReading, seen: { idles: boolean; events: TruthEvent[] }): void {
  const { timeMs } = reading;
  if (seen.idles) {
    run.streakStartMs ??= timeMs;
    run.awayMs = null;
    return;
  }
  run.lastLoadEndMs = timeMs + 1000;
  run.metalAtLoadC = run.metalC;
  if (run.streakStartMs === null) return;
  run.awayMs ??= timeMs;
  if (timeMs + 1000 - run.awayMs >= blipS * 1000) endStreak(run, run.awayMs, seen.events);
}

function watchLoad(run: Run, reading: TruthReading, events: TruthEvent[]): void {
  if (reading.loadPct < earlyLoadPct) {
    run.heavyMs = null;
    return;
  }
  run.heavyMs ??= reading.timeMs;
  const startedMs = run.heavyMs;
  const afterStartS = (startedMs - run.startedMs) / 1000;
  const isEarly = run.coolantAtStartC < coldStartC && afterStartS < leastWarmUpS;
  if (!isEarly || run.hasEarlyLoad || reading.timeMs + 1000 - startedMs < earlyLoadHoldS * 1000) return;
  run.hasEarlyLoad = true;
  const { startedMs: runStartedMs, coolantAtStartC } = run;
  events.push({ kind: 'early-load', startedMs, endedMs: startedMs, runStartedMs, afterStartS, coolantAtStartC });
}

function endStreak(run: Run, endedMs: number, events: TruthEvent[]): void {
  const startedMs = run.streakStartMs as number;
  const durationS = (endedMs - startedMs) / 1000;
  if (durationS >= shortestStreakS) {
    events.push({ kind: 'idle-streak', startedMs, endedMs, durationS, isOverLimit: durationS >= idleLimitS });
  }
  run.streakStartMs = null;
  run.awayMs = null;
}

function endRun(run: Run, endedMs: number, events: TruthEvent[]): void {
  if (run.streakStartMs !== null) endStreak(run, run.awayMs ?? endedMs, events);
  const { startedMs, coolantAtStartC, metalAtLoadC, metalC } = run;
  events.push({ kind: 'engine-run', startedMs, endedMs, durationS: (endedMs - startedMs) / 1000, coolantAtStartC });
  const coolDownS = run.lastLoadEndMs === null ? null : (endedMs - run.lastLoadEndMs) / 1000;
  const grade = gradeStop(coolDownS, metalAtLoadC, metalC);
  events.push({ kind: 'stop', startedMs: endedMs, endedMs, coolDownS, turbineMetalTempC: metalC, metalAtLoadC, grade });
}

function gradeStop(coolDownS: number | null, metalAtLoadC: number | null, metalAtStopC: number): StopGrade {
  if (coolDownS === null || coolDownS >= coolDownWantedS || (metalAtLoadC ?? 0) <= turbineHotC) return 'cool';
  return coolDownS < coolDownSevereS || metalAtStopC > turbineSevereC ? 'severe' : 'short';
}
