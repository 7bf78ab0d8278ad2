/** Whether somebody is on shift: the profile's shifts by the wall clock of the machine's time zone. */

import type { MachineProfile } from '@warmbrick/signals';

type Calendar = Pick<MachineProfile, 'timeZone' | 'shifts'>;

const minuteMs = 60_000;
/** How far ahead the end of a shift or the start of the next is looked for. Source: a shift comes every day; a day of 25 h. */
const searchMs = 26 * 3_600_000;
/** Formatters kept at most; a fleet lives in a handful of zones. Source: engineering judgement. */
const zonesKept = 64;
const formatters = new Map<string, Intl.DateTimeFormat>();

/**
 * The name of the shift that is on at an instant; null between shifts.
 *
 * A shift ends before its end on the wall; one whose end is not after its start goes on to the next day, and one that ends
 * when it starts is on all day. Only the wall clock counts: an hour that comes twice is on both times, one that is skipped
 * never. Where shifts overlap, the first of the profile.
 */
export function shiftAt({ timeZone, shifts }: Calendar, atMs: number): string | null {
  const minute = wallMinute(timeZone, atMs);
  return shifts.find(({ start, end }) => isWithin(minute, minuteOf(start), minuteOf(end)))?.name ?? null;
}

/**
 * The next instant, to the minute, at which a shift begins or ends; null where nothing changes within a day.
 * Changes between zone offsets are seen as what they do to the wall clock.
 */
export function nextShiftChange(calendar: Calendar, afterMs: number): number | null {
  const now = shiftAt(calendar, afterMs);
  const firstMs = (Math.floor(afterMs / minuteMs) + 1) * minuteMs;
  // Offsets and shift times are whole quarters of an hour as a rule; where they are not, minutes are looked at.
  const stepMs = isByQuarters(calendar) ? 15 * minuteMs : minuteMs;
  const alignedMs = Math.ceil(firstMs / stepMs) * stepMs;
  for (let atMs = alignedMs; atMs <= afterMs + searchMs; atMs += stepMs) {
    if (shiftAt(calendar, atMs) !== now) return atMs;
  }
  return null;
}

/** An instant as date and time on the machine's wall, such as "2026-11-02 09:12". */
export function wallTime(timeZone: string, atMs: number): string {
  const parts = partsAt(timeZone, atMs);
  const two = (value: number | undefined) => String(value ?? 0).padStart(2, '0');
  return `${parts.year}-${two(parts.month)}-${two(parts.day)} ${two(parts.hour)}:${two(parts.minute)}`;
}

function isByQuarters({ shifts }: Calendar): boolean {
  return shifts.every(({ start, end }) => minuteOf(start) % 15 === 0 && minuteOf(end) % 15 === 0);
}

function isWithin(minute: number, start: number, end: number): boolean {
  return start < end ? minute >= start && minute < end : minute >= start || minute < end;
}

function minuteOf(clock: string): number {
  return Number(clock.slice(0, 2)) * 60 + Number(clock.slice(3, 5));
}

function wallMinute(timeZone: string, atMs: number): number {
  const { hour = 0, minute = 0 } = partsAt(timeZone, atMs);
  return hour * 60 + minute;
}

function partsAt(timeZone: string, atMs: number): Record<string, number | undefined> {
  const parts: Record<string, number> = {};
  for (const { type, value } of formatterOf(timeZone).formatToParts(atMs)) {
    if (type !== 'literal') parts[type] = Number(value);
  }
  return parts;
}

function formatterOf(timeZone: string): Intl.DateTimeFormat {
  const known = formatters.get(timeZone);
  if (known !== undefined) return known;
  if (formatters.size >= zonesKept) formatters.clear();
  const formatter = new Intl.DateTimeFormat('en-US', {
    timeZone,
    hourCycle: 'h23',
    year: 'numeric',
    month: 'numeric',
    day: 'numeric',
    hour: 'numeric',
    minute: 'numeric',
  });
  formatters.set(timeZone, formatter);
  return formatter;
}
