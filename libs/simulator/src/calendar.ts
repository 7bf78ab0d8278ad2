/** The calendar of a site: which instants its days and shifts begin at. */

import type { MachineProfile } from '@warmbrick/signals';
import type { Shift } from './plan-shift.js';

const dayMs = 86_400_000;
const minuteMs = 60_000;

/** Number of a local day: whole days from 1970-01-01 by the site's own clock. */
export function localDay(timeMs: number, timeZone: string): number {
  return Math.floor((timeMs + offsetMs(timeMs, timeZone)) / dayMs);
}

/** Local time of day in hours, 0 to 24, by an offset worked out once for the day. */
export function hourOfDay(timeMs: number, zoneOffsetMs: number): number {
  const inDay = (timeMs + zoneOffsetMs) % dayMs;
  return (inDay < 0 ? inDay + dayMs : inDay) / 3_600_000;
}

/** Instant at which the local clock of a day shows a time; across a clock change, the nearest there is. */
export function localInstantMs(day: number, minuteOfDay: number, timeZone: string): number {
  const wallMs = day * dayMs + minuteOfDay * minuteMs;
  const guess = wallMs - offsetMs(wallMs, timeZone);
  return wallMs - offsetMs(guess, timeZone);
}

/** The shifts that begin on a local day, in order. */
export function shiftsOfDay(day: number, profile: MachineProfile): Shift[] {
  return profile.shifts
    .map((shift) => {
      const startMinute = minutes(shift.start);
      const endMinute = minutes(shift.end);
      const lastDay = endMinute > startMinute ? day : day + 1;
      return {
        startMs: localInstantMs(day, startMinute, profile.timeZone),
        endMs: localInstantMs(lastDay, endMinute, profile.timeZone),
      };
    })
    .sort((a, b) => a.startMs - b.startMs);
}

/** What the site's clock is ahead of UTC at an instant. */
export function offsetMs(timeMs: number, timeZone: string): number {
  const parts = new Map(
    formatFor(timeZone)
      .formatToParts(timeMs)
      .map((part) => [part.type, Number(part.value)]),
  );
  const at = (type: Intl.DateTimeFormatPartTypes): number => parts.get(type) ?? 0;
  const wallMs = Date.UTC(at('year'), at('month') - 1, at('day'), at('hour'), at('minute'), at('second'));
  return wallMs - Math.floor(timeMs / 1000) * 1000;
}

function minutes(clockTime: string): number {
  const [hour = '0', minute = '0'] = clockTime.split(':');
  return Number(hour) * 60 + Number(minute);
}

function formatFor(timeZone: string): Intl.DateTimeFormat {
  return new Intl.DateTimeFormat('en-GB', {
    timeZone,
    hourCycle: 'h23',
    year: 'numeric',
    month: 'numeric',
    day: 'numeric',
    hour: 'numeric',
    minute: 'numeric',
    second: 'numeric',
  });
}
