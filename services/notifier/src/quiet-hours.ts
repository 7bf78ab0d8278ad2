/** Quiet hours: what is not urgent waits until they end, by the clock on the receiver's wall. */

export interface QuietHours {
  /** Name of the IANA database. */
  readonly timeZone: string;
  /** Minutes of the local day, 0..1439; an end at or before the start is on the next day. */
  readonly fromMinute: number;
  readonly toMinute: number;
}

/** How finely the end is looked for, ms; zones change by multiples of it. */
const stepMs = 60_000;
/** Quiet hours end within a day, an hour of changed clocks included. */
const longestMs = 26 * 3_600_000;

/** Time at which the quiet ends, in epoch ms; null when it is not quiet. */
export function quietUntilMs(quiet: QuietHours, nowMs: number): number | null {
  const minuteOf = minuteReader(quiet.timeZone);
  if (!isQuiet(quiet, minuteOf(nowMs))) return null;
  const startMs = Math.floor(nowMs / stepMs) * stepMs;
  for (let atMs = startMs + stepMs; atMs <= startMs + longestMs; atMs += stepMs) {
    if (!isQuiet(quiet, minuteOf(atMs))) return atMs;
  }
  // All day quiet is never what somebody wanted: it does not hold anything back.
  return null;
}

function isQuiet({ fromMinute, toMinute }: QuietHours, minute: number): boolean {
  return fromMinute < toMinute ? minute >= fromMinute && minute < toMinute : minute >= fromMinute || minute < toMinute;
}

function minuteReader(timeZone: string): (atMs: number) => number {
  const format = new Intl.DateTimeFormat('en-GB', { timeZone, hour: '2-digit', minute: '2-digit', hourCycle: 'h23' });
  return (atMs) => {
    const [hour = '0', minute = '0'] = format.format(atMs).split(':');
    return Number(hour) * 60 + Number(minute);
  };
}
