/** The inducement clock: how long until the next step of a schedule, and what clears it. */

import { rounded } from '../figures.js';
import { describeFault, type FleetFaultTable } from './describe-fault.js';
import type { FaultEpisode } from './fault-episode.js';
import type { InducementClass } from './inducement-class.js';
import type { InducementPath, InducementSchedule, InducementStep } from './inducement-schedule.js';

/** A reading of the total engine hours. */
export interface HoursReading {
  readonly timeMs: number;
  readonly engineHours: number;
}

export interface ClockInput {
  readonly schedule: InducementSchedule;
  /** Episodes of the machine; only those that can lead to an inducement and are active count, earlier ones make repeats. */
  readonly faults: readonly FaultEpisode[];
  /** Readings by time; empty when the machine does not send hours, then the clock runs on the time of day at most. */
  readonly engineHours: readonly HoursReading[];
  readonly atMs: number;
  /** DEF level now; null when unknown. */
  readonly defLevelPct?: number | null;
  readonly fleetTable?: FleetFaultTable;
}

export interface ClockStep {
  readonly text: string;
  readonly level: InducementStep['level'];
  /** Engine hours left, 0 once reached; null for a step of the tank's level. */
  readonly hoursLeft: number | null;
  /** The tank's level at which it comes; null for a step of hours. */
  readonly atLevelPct: number | null;
  readonly torqueCutRatio: number | null;
  readonly isIdleOnly: boolean;
  readonly isReached: boolean;
  readonly fromMemory: boolean;
}

export interface ClockLine {
  readonly inducementClass: InducementClass;
  /** The faults that run this clock, the earliest first. */
  readonly faultIds: readonly string[];
  readonly startedMs: number;
  /** Engine hours since then; `isUpperBound` when they had to be taken from the time of day. */
  readonly activeH: number;
  readonly isUpperBound: boolean;
  /** The fault came again so soon that the shorter steps hold. */
  readonly isRepeat: boolean;
  readonly steps: readonly ClockStep[];
  /** The next step that has not been reached; null when all have. */
  readonly next: ClockStep | null;
  readonly clears: string;
}

export interface InducementClock {
  readonly scheduleId: string;
  readonly title: string;
  readonly source: string;
  /** Whether anything shown is from memory and has to be checked. */
  readonly fromMemory: boolean;
  readonly lines: readonly ClockLine[];
  readonly caution: string;
}

const hourMs = 3_600_000;
const caution =
  'A forecast from a general table: the machine itself and its manual decide. The clock is there so that the fault is ' +
  'repaired in time; an inducement may not be defeated.';

/**
 * What the schedule says of the machine's active faults.
 *
 * Units: hours are engine hours, between readings by interpolation.
 * Missing: without hours the time of day since the fault stands for them and the line says that it is an upper bound.
 */
export function inducementClock(input: ClockInput): InducementClock {
  const { schedule } = input;
  const lines = schedule.paths.flatMap((path) => path.classes.map((one) => lineOf(input, path, one)));
  const shown = lines.filter((line) => line !== null);
  return {
    scheduleId: schedule.id,
    title: schedule.title,
    source: schedule.source,
    fromMemory: schedule.fromMemory || shown.some(({ steps }) => steps.some((step) => step.fromMemory)),
    lines: shown,
    caution,
  };
}

function lineOf(input: ClockInput, path: InducementPath, inducementClass: InducementClass): ClockLine | null {
  const { faults, atMs, fleetTable, schedule } = input;
  const ofClass = faults
    .filter((fault) => describeFault(fault.spn, fault.fmi, fleetTable).inducementClass === inducementClass)
    .filter((fault) => !fault.isPreviouslyActiveOnly && fault.startedMs <= atMs)
    .sort((a, b) => a.startedMs - b.startedMs);
  const active = ofClass.filter(({ endedMs }) => endedMs === null || endedMs > atMs);
  const first = active[0];
  if (first === undefined) return null;
  const { startedMs } = first;
  const since = hoursBetween(input.engineHours, startedMs, atMs);
  const isRepeat = isRepeated(input, path, ofClass);
  const rows = isRepeat && path.repeat !== null ? path.repeat.steps : path.steps;
  const steps = rows.map((step) => clockStep(step, since.hours, input.defLevelPct ?? null, schedule.fromMemory));
  return {
    inducementClass,
    faultIds: active.map(({ id }) => id),
    startedMs,
    activeH: rounded(since.hours, 2),
    isUpperBound: since.isUpperBound,
    isRepeat,
    steps,
    next: steps.find(({ isReached }) => !isReached) ?? null,
    clears: path.clears,
  };
}

/** Whether the same class was active and gone within the schedule's time before the one that is active now. */
function isRepeated(input: ClockInput, path: InducementPath, ofClass: readonly FaultEpisode[]): boolean {
  const { repeat } = path;
  const open = ofClass.find(({ endedMs }) => endedMs === null || endedMs > input.atMs);
  if (repeat === null || open === undefined) return false;
  return ofClass.some(({ endedMs }) => {
    if (endedMs === null || endedMs > open.startedMs) return false;
    return hoursBetween(input.engineHours, endedMs, open.startedMs).hours <= repeat.withinH;
  });
}

function clockStep(
  step: InducementStep,
  activeH: number,
  defLevelPct: number | null,
  isAllFromMemory: boolean,
): ClockStep {
  const { text, level, afterH, atLevelPct, torqueCutRatio, isIdleOnly } = step;
  const isByLevel = afterH === null;
  const isReached = isByLevel ? defLevelPct !== null && defLevelPct <= (atLevelPct ?? 0) : activeH >= afterH;
  return {
    text,
    level,
    hoursLeft: isByLevel ? null : rounded(Math.max(0, afterH - activeH), 2),
    atLevelPct,
    torqueCutRatio,
    isIdleOnly,
    isReached,
    fromMemory: step.fromMemory || isAllFromMemory,
  };
}

/** Engine hours between two times. Missing: the time of day where readings don't reach, as an upper bound. */
export function hoursBetween(
  readings: readonly HoursReading[],
  fromMs: number,
  toMs: number,
): { hours: number; isUpperBound: boolean } {
  const dayH = Math.max(0, (toMs - fromMs) / hourMs);
  const from = hoursAt(readings, fromMs);
  const to = hoursAt(readings, toMs);
  if (from === null || to === null || to < from) return { hours: dayH, isUpperBound: true };
  return { hours: Math.min(to - from, dayH), isUpperBound: false };
}

/** Total engine hours at a time: between readings by interpolation, after them as last read; null over an hour before. */
function hoursAt(readings: readonly HoursReading[], atMs: number): number | null {
  let before: HoursReading | null = null;
  let after: HoursReading | null = null;
  for (const reading of readings) {
    if (reading.timeMs <= atMs && (before === null || reading.timeMs >= before.timeMs)) before = reading;
    if (reading.timeMs >= atMs && (after === null || reading.timeMs < after.timeMs)) after = reading;
  }
  if (before !== null && after !== null) {
    const spanMs = after.timeMs - before.timeMs;
    const share = spanMs === 0 ? 0 : (atMs - before.timeMs) / spanMs;
    return before.engineHours + share * (after.engineHours - before.engineHours);
  }
  if (before !== null) return before.engineHours;
  if (after !== null && after.timeMs - atMs <= hourMs) return after.engineHours - (after.timeMs - atMs) / hourMs;
  return null;
}
