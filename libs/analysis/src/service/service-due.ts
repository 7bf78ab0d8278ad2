/** What work is due on a machine, from what was done, how far its hours went since, and the calendar. */

import type { ServiceInterval } from '@warmbrick/signals';

/** Work that was done. */
export interface ServiceRecord {
  readonly item: string;
  readonly atMs: number;
  /** Reading of the hour meter; null when nobody wrote it down. */
  readonly engineHours: number | null;
}

/** How far the hours of a machine went. */
export interface HourUse {
  /** Latest reading of the hour meter; null when the machine sends none. */
  readonly reading: { readonly engineHours: number; readonly atMs: number } | null;
  /** Observed running in steps of rising time: what ran from `startedMs` on for `lengthMs`. */
  readonly running: readonly { readonly startedMs: number; readonly runningS: number }[];
}

export interface ServiceDue {
  readonly item: string;
  readonly name: string;
  readonly interval: { readonly hours: number | null; readonly months: number | null };
  /** When it was done last; null when nothing is recorded. */
  readonly lastMs: number | null;
  readonly lastEngineHours: number | null;
  /** Engine hours since then, and what they rest on; null when neither is known. */
  readonly usedHours: number | null;
  readonly usedBasis: 'hour-meter' | 'observed-running' | null;
  /** Hours that are left, below nought when overdue; null without an interval in hours or without hours. */
  readonly hoursLeft: number | null;
  /** When it falls due: by the calendar, or projected from recent hours, whichever is first; null when neither can be said. */
  readonly dueMs: number | null;
  readonly dueBy: 'hours' | 'calendar' | null;
  readonly state: 'never-recorded' | 'fine' | 'soon' | 'overdue';
}

export interface ServiceInput {
  readonly intervals: readonly ServiceInterval[];
  readonly records: readonly ServiceRecord[];
  readonly use: HourUse;
  /** The wall clock in epoch ms. */
  readonly nowMs: number;
}

const hourMs = 3_600_000;
const dayMs = 24 * hourMs;
/** Days whose running says what the next days will be like. Source: engineering judgement; four weeks of work. */
const recentDays = 28;
/** What is due within so many hours or days is due soon. Source: engineering judgement. */
const soonHours = 50;
const soonDays = 14;

/**
 * Every item of the profile with what is left of its interval, in the order of the profile.
 *
 * Missing: an item without a record is `never-recorded`, and nothing is claimed about it. Hours between a record and now come
 * from the hour meter where both readings are known; else from the running that was observed, which is no more than the truth.
 */
export function serviceDue(input: ServiceInput): ServiceDue[] {
  const perDay = hoursPerDay(input);
  return input.intervals.map((interval) => {
    const last = latest(input.records, interval.item);
    const { hours, months } = interval;
    const head = { item: interval.item, name: interval.name, interval: { hours, months } };
    if (last === null) {
      const nothing = {
        lastMs: null,
        lastEngineHours: null,
        usedHours: null,
        usedBasis: null,
        hoursLeft: null,
      } as const;
      return { ...head, ...nothing, dueMs: null, dueBy: null, state: 'never-recorded' };
    }
    const used = usedSince(input.use, last);
    const hoursLeft = hours === null || used === null ? null : rounded(hours - used.hours);
    const due = earliest(dueByHours(input, last, { hours, hoursLeft, perDay }), calendarDue(last.atMs, months));
    return {
      ...head,
      lastMs: last.atMs,
      lastEngineHours: last.engineHours,
      usedHours: used === null ? null : rounded(used.hours),
      usedBasis: used?.basis ?? null,
      hoursLeft,
      dueMs: due?.atMs ?? null,
      dueBy: due?.by ?? null,
      state: stateOf(due?.atMs ?? null, hoursLeft, input.nowMs),
    };
  });
}

/** The latest record of an item; of several at one time the one with the most hours. */
function latest(records: readonly ServiceRecord[], item: string): ServiceRecord | null {
  return records
    .filter((record) => record.item === item)
    .reduce<ServiceRecord | null>((best, record) => {
      if (best === null || record.atMs > best.atMs) return record;
      const isMore = record.atMs === best.atMs && (record.engineHours ?? -1) > (best.engineHours ?? -1);
      return isMore ? record : best;
    }, null);
}

function usedSince(
  use: HourUse,
  last: ServiceRecord,
): { hours: number; basis: 'hour-meter' | 'observed-running' } | null {
  const { reading, running } = use;
  if (reading !== null && last.engineHours !== null && reading.engineHours >= last.engineHours) {
    // What ran after the last reading counts as well.
    const sinceReadingH = runningHours(running, reading.atMs);
    return { hours: reading.engineHours - last.engineHours + sinceReadingH, basis: 'hour-meter' };
  }
  if (running.length === 0) return null;
  return { hours: runningHours(running, last.atMs), basis: 'observed-running' };
}

function runningHours(running: HourUse['running'], fromMs: number): number {
  let seconds = 0;
  for (const piece of running) if (piece.startedMs >= fromMs) seconds += piece.runningS;
  return seconds / 3600;
}

/** Mean running of the last weeks, in hours a day; null before anything was seen. */
function hoursPerDay({ use, nowMs }: ServiceInput): number | null {
  const first = use.running[0];
  if (first === undefined) return null;
  const fromMs = Math.max(first.startedMs, nowMs - recentDays * dayMs);
  const days = (nowMs - fromMs) / dayMs;
  return days <= 0 ? null : runningHours(use.running, fromMs) / days;
}

interface Due {
  readonly atMs: number;
  readonly by: 'hours' | 'calendar';
}

/** When the hours are used up: in the past from the running itself, in the future from the mean of the last weeks. */
function dueByHours(
  { use, nowMs }: ServiceInput,
  last: ServiceRecord,
  left: { hours: number | null; hoursLeft: number | null; perDay: number | null },
): Due | null {
  const { hours, hoursLeft, perDay } = left;
  if (hours === null || hoursLeft === null) return null;
  if (hoursLeft > 0)
    return perDay === null || perDay <= 0 ? null : { atMs: nowMs + (hoursLeft / perDay) * dayMs, by: 'hours' };
  // Counted back from now, so that it fits to the hours that the meter says.
  let overH = -hoursLeft;
  for (let k = use.running.length - 1; k >= 0; k--) {
    const piece = use.running[k] as { startedMs: number; runningS: number };
    overH -= piece.runningS / 3600;
    if (overH <= 0) return { atMs: Math.max(piece.startedMs, last.atMs), by: 'hours' };
  }
  return { atMs: Math.max(use.running[0]?.startedMs ?? last.atMs, last.atMs), by: 'hours' };
}

/** The same day of the month some months later, or the last of that month. */
function calendarDue(fromMs: number, months: number | null): Due | null {
  if (months === null) return null;
  const from = new Date(fromMs);
  const whole = Math.floor(months);
  const end = new Date(fromMs);
  end.setUTCDate(1);
  end.setUTCMonth(end.getUTCMonth() + whole);
  const days = new Date(Date.UTC(end.getUTCFullYear(), end.getUTCMonth() + 1, 0)).getUTCDate();
  end.setUTCDate(Math.min(from.getUTCDate(), days));
  return { atMs: end.getTime(), by: 'calendar' };
}

function earliest(a: Due | null, b: Due | null): Due | null {
  if (a === null || b === null) return a ?? b;
  return a.atMs <= b.atMs ? a : b;
}

function stateOf(dueMs: number | null, hoursLeft: number | null, nowMs: number): ServiceDue['state'] {
  if ((hoursLeft !== null && hoursLeft <= 0) || (dueMs !== null && dueMs <= nowMs)) return 'overdue';
  const isSoon =
    (hoursLeft !== null && hoursLeft <= soonHours) || (dueMs !== null && dueMs - nowMs <= soonDays * dayMs);
  return isSoon ? 'soon' : 'fine';
}

function rounded(hours: number): number {
  return Math.round(hours * 10) / 10;
}
