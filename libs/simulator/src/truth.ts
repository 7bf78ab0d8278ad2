/** Truth labels: what really happened, said by the machine itself and not by any analysis of its signals. */

import type { MachineProfile } from '@warmbrick/signals';

/** Every event is complete: it is given once it has ended. */
export type TruthEvent =
  | {
      readonly kind: 'engine-run';
      readonly startedMs: number;
      readonly endedMs: number;
      readonly durationS: number;
      readonly coolantAtStartC: number;
    }
  | {
      /** From the first idle second until load or raised speed that lasts, or the stop. */
      readonly kind: 'idle-streak';
      readonly startedMs: number;
      readonly endedMs: number;
      readonly durationS: number;
      readonly isOverLimit: boolean;
    }
  | {
      /** How an engine run ended. */
      readonly kind: 'stop';
      readonly startedMs: number;
      readonly endedMs: number;
      /** Time at base idle without load since the last load; null in a run without any. */
      readonly coolDownS: number | null;
      readonly turbineMetalTempC: number;
      /** Turbine metal at the last load; null in a run without any. */
      readonly metalAtLoadC: number | null;
      readonly grade: StopGrade;
    }
  | {
      /** Load that came too early into a cold run: the time is that of the load. */
      readonly kind: 'early-load';
      readonly startedMs: number;
      readonly endedMs: number;
      readonly runStartedMs: number;
      readonly afterStartS: number;
      readonly coolantAtStartC: number;
    }
  | {
      /** No sample for longer than the sample period while the key was on: from the last sample to the next. */
      readonly kind: 'gap';
      readonly startedMs: number;
      readonly endedMs: number;
      readonly durationS: number;
      readonly isRunning: boolean;
    };

/** `cool` had a cool-down that was long enough, or a turbine too cold to need one; the others are hot stops. */
export type StopGrade = 'cool' | 'short' | 'severe';

/** An idle streak over this is over the limit, s. Source: common practice, not over one hour at a stretch. */
export const idleLimitS = 3600;
/** Load or raised speed shorter than this does not end an idle streak, s. Source: engineering judgement. */
const blipS = 30;
/** Idle streaks shorter than this are not worth a label, s. Source: design decision. */
const shortestStreakS = 60;
/** Cool-down wanted before key-off, s. Source: common practice, about five minutes at base idle. */
export const coolDownWantedS = 300;
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

/** Watches a machine second by second and appends what happened. */
export function createTruthRecorder(profile: MachineProfile, events: TruthEvent[]) {
  let runStartMs = Number.NaN;
  let coolantAtStartC = 0;
  let streakStartMs = Number.NaN;
  let awayMs = Number.NaN;
  let lastLoadEndMs = Number.NaN;
  let heavyMs = Number.NaN;
  let hasEarlyLoad = false;
  let lastMetalC = 0;
  let metalAtLoadC: number | null = null;

  const endStreak = (endedMs: number): void => {
    const durationS = (endedMs - streakStartMs) / 1000;
    if (durationS >= shortestStreakS) {
      events.push({
        kind: 'idle-streak',
        startedMs: streakStartMs,
        endedMs,
        durationS,
        isOverLimit: durationS > idleLimitS,
      });
    }
    streakStartMs = Number.NaN;
    awayMs = Number.NaN;
  };
  const endRun = (endedMs: number): void => {
    if (streakStartMs === streakStartMs) endStreak(awayMs === awayMs ? awayMs : endedMs);
    const durationS = (endedMs - runStartMs) / 1000;
    events.push({ kind: 'engine-run', startedMs: runStartMs, endedMs, durationS, coolantAtStartC });
    const coolDownS = lastLoadEndMs === lastLoadEndMs ? (endedMs - lastLoadEndMs) / 1000 : null;
    const grade = gradeStop(coolDownS, metalAtLoadC, lastMetalC);
    events.push({
      kind: 'stop',
      startedMs: endedMs,
      endedMs,
      coolDownS,
      turbineMetalTempC: lastMetalC,
      metalAtLoadC,
      grade,
    });
    runStartMs = Number.NaN;
    lastLoadEndMs = Number.NaN;
    metalAtLoadC = null;
  };
  const watchIdle = (timeMs: number, idles: boolean): void => {
    if (idles) {
      if (streakStartMs !== streakStartMs) streakStartMs = timeMs;
      awayMs = Number.NaN;
      return;
    }
    lastLoadEndMs = timeMs + 1000;
    metalAtLoadC = lastMetalC;
    if (streakStartMs !== streakStartMs) return;
    if (awayMs !== awayMs) awayMs = timeMs;
    if (timeMs + 1000 - awayMs >= blipS * 1000) endStreak(awayMs);
  };
  const watchLoad = (timeMs: number, loadPct: number): void => {
    if (loadPct < earlyLoadPct) {
      heavyMs = Number.NaN;
      return;
    }
    if (heavyMs !== heavyMs) heavyMs = timeMs;
    const afterStartS = (heavyMs - runStartMs) / 1000;
    const isEarly = coolantAtStartC < coldStartC && afterStartS < leastWarmUpS;
    if (isEarly && !hasEarlyLoad && timeMs + 1000 - heavyMs >= earlyLoadHoldS * 1000) {
      hasEarlyLoad = true;
      const startedMs = heavyMs;
      events.push({
        kind: 'early-load',
        startedMs,
        endedMs: startedMs,
        runStartedMs: runStartMs,
        afterStartS,
        coolantAtStartC,
      });
    }
  };
  return {
    see(reading: TruthReading): void {
      const { timeMs, speedRpm, loadPct } = reading;
      if (!isRunning(speedRpm, profile)) {
        if (runStartMs === runStartMs) endRun(timeMs);
        return;
      }
      if (runStartMs !== runStartMs) {
        runStartMs = timeMs;
        coolantAtStartC = reading.coolantTempC;
        hasEarlyLoad = false;
        heavyMs = Number.NaN;
      }
      lastMetalC = reading.turbineMetalTempC;
      watchIdle(timeMs, isIdling(speedRpm, loadPct, profile));
      watchLoad(timeMs, loadPct);
    },
  };
}

function gradeStop(coolDownS: number | null, metalAtLoadC: number | null, metalAtStopC: number): StopGrade {
  if (coolDownS === null || coolDownS >= coolDownWantedS || (metalAtLoadC ?? 0) <= turbineHotC) return 'cool';
  return coolDownS < coolDownSevereS || metalAtStopC > turbineSevereC ? 'severe' : 'short';
}
