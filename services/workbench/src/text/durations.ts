/** Durations and times in words for a terminal. */

/** A duration such as "45 s", "12 min" or "3 h 05 min". */
export function durationText(seconds: number): string {
  if (seconds < 120) return `${Math.round(seconds)} s`;
  const minutes = Math.round(seconds / 60);
  if (minutes < 60) return `${minutes} min`;
  return `${Math.floor(minutes / 60)} h ${String(minutes % 60).padStart(2, '0')} min`;
}

/** Writes instants in one time zone, which stands beside them. */
export interface ZoneClock {
  readonly timeZone: string;
  day(atMs: number): string;
  time(atMs: number): string;
  /** Quarter of an hour of the local day, 0-95. */
  quarter(atMs: number): number;
}

/**
 * A clock of one IANA time zone.
 *
 * Errors: RangeError for a zone that the profile would have refused.
 */
export function zoneClock(timeZone: string): ZoneClock {
  const format = new Intl.DateTimeFormat('en-CA', {
    timeZone,
    hourCycle: 'h23',
    year: 'numeric',
    month: '2-digit',
    day: '2-digit',
    hour: '2-digit',
    minute: '2-digit',
    second: '2-digit',
  });
  const parts = (atMs: number) =>
    Object.fromEntries(format.formatToParts(new Date(atMs)).map((part) => [part.type, part.value]));
  return {
    timeZone,
    day(atMs) {
      const p = parts(atMs);
      return `${p.year}-${p.month}-${p.day}`;
    },
    time(atMs) {
      const p = parts(atMs);
      return `${p.hour}:${p.minute}:${p.second}`;
    },
    quarter(atMs) {
      const p = parts(atMs);
      return Number(p.hour) * 4 + Math.floor(Number(p.minute) / 15);
    },
  };
}
