/** Wall-clock time of a time zone, without any library: the zone data comes from the JavaScript runtime. */

/** Formatters kept at most; a fleet lives in a handful of zones. Source: engineering judgement. */
const zonesKept = 64;
const minuteMs = 60_000;
const dayMs = 86_400_000;

const formatters = new Map<string, Intl.DateTimeFormat>();

/** A date and a time of day on the wall, without a zone. */
export interface LocalTime {
  readonly year: number;
  /** 1-12. */
  readonly month: number;
  readonly day: number;
  readonly minuteOfDay: number;
}

/**
 * How far the zone's wall clock is ahead of UTC at an instant, in milliseconds.
 *
 * Errors: RangeError on a name that is no time zone (profiles are checked before they get here).
 */
export function zoneOffsetMs(timeZone: string, atMs: number): number {
  const wholeMinuteMs = Math.floor(atMs / minuteMs) * minuteMs;
  const parts: Record<string, number> = {};
  for (const part of formatterOf(timeZone).formatToParts(wholeMinuteMs)) {
    if (part.type !== 'literal') parts[part.type] = Number(part.value);
  }
  const { year = 0, month = 1, day = 1, hour = 0, minute = 0, second = 0 } = parts;
  return Date.UTC(year, month - 1, day, hour, minute, second) - wholeMinuteMs;
}

/** The date and time of day on the wall at an instant. */
export function localTimeAt(timeZone: string, atMs: number): LocalTime {
  const wall = new Date(atMs + zoneOffsetMs(timeZone, atMs));
  return {
    year: wall.getUTCFullYear(),
    month: wall.getUTCMonth() + 1,
    day: wall.getUTCDate(),
    minuteOfDay: wall.getUTCHours() * 60 + wall.getUTCMinutes(),
  };
}

/**
 * The instant at which the wall clock shows a time. A time that comes twice is its first coming; a time that is skipped
 * is read with the offset before the skip.
 *
 * Source: RFC 5545, 3.3.5, form 3 (local time with a time zone reference).
 */
export function instantOfLocalTime(timeZone: string, local: LocalTime): number {
  const wallMs = Date.UTC(local.year, local.month - 1, local.day) + local.minuteOfDay * minuteMs;
  const offsetBeforeMs = zoneOffsetMs(timeZone, wallMs - dayMs);
  const offsetAfterMs = zoneOffsetMs(timeZone, wallMs + dayMs);
  const firstMs = wallMs - offsetBeforeMs;
  if (offsetBeforeMs === offsetAfterMs || zoneOffsetMs(timeZone, firstMs) === offsetBeforeMs) return firstMs;
  const secondMs = wallMs - offsetAfterMs;
  return zoneOffsetMs(timeZone, secondMs) === offsetAfterMs ? secondMs : firstMs;
}

/** The same time of day some days later. */
export function addLocalDays(local: LocalTime, days: number): LocalTime {
  const date = new Date(Date.UTC(local.year, local.month - 1, local.day + days));
  return {
    year: date.getUTCFullYear(),
    month: date.getUTCMonth() + 1,
    day: date.getUTCDate(),
    minuteOfDay: local.minuteOfDay,
  };
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
    second: 'numeric',
  });
  formatters.set(timeZone, formatter);
  return formatter;
}
