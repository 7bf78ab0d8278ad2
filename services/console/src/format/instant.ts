/** Instants on a clock: in the machine's time zone or in UTC, and always saying which. */

export type ZoneChoice = 'machine' | 'utc';

const maxFormatters = 200;
const formatters = new Map<string, Intl.DateTimeFormat>();

/** The IANA zone that times are shown in. */
export function zoneOf(choice: ZoneChoice, machineTimeZone: string): string {
  return choice === 'utc' ? 'UTC' : machineTimeZone;
}

/** Time of day, 24 hours: "14:02". Units: epoch ms. */
export function formatClock(timeMs: number, timeZone: string): string {
  return formatter(timeZone, { hour: '2-digit', minute: '2-digit', hourCycle: 'h23' }).format(timeMs);
}

/** Time of day with seconds: "14:02:31". Units: epoch ms. */
export function formatClockS(timeMs: number, timeZone: string): string {
  return formatter(timeZone, { hour: '2-digit', minute: '2-digit', second: '2-digit', hourCycle: 'h23' }).format(
    timeMs,
  );
}

/** Day and month: "12 Mar". Units: epoch ms. */
export function formatDay(timeMs: number, timeZone: string): string {
  return formatter(timeZone, { day: 'numeric', month: 'short' }).format(timeMs);
}

/** Day, month and time: "12 Mar 14:02"; with the year when it is not the present one. Units: epoch ms. */
export function formatInstant(timeMs: number, timeZone: string, nowMs: number): string {
  const year = (ms: number) => formatter(timeZone, { year: 'numeric' }).format(ms);
  const day = formatDay(timeMs, timeZone);
  const dated = year(timeMs) === year(nowMs) ? day : `${day} ${year(timeMs)}`;
  return `${dated} ${formatClock(timeMs, timeZone)}`;
}

/** Only the time for an instant of the present day, else the day as well. Units: epoch ms. */
export function formatInstantShort(timeMs: number, timeZone: string, nowMs: number): string {
  const isToday = formatDay(timeMs, timeZone) === formatDay(nowMs, timeZone) && Math.abs(nowMs - timeMs) < 86_400_000;
  return isToday ? formatClock(timeMs, timeZone) : formatInstant(timeMs, timeZone, nowMs);
}

/** Name of a zone with its distance from UTC on that day: "Europe/Oslo (UTC+2)", or plain "UTC". Units: epoch ms. */
export function zoneLabel(timeZone: string, timeMs: number): string {
  if (timeZone === 'UTC') return 'UTC';
  const parts = formatter(timeZone, { timeZoneName: 'shortOffset', hour: 'numeric' }).formatToParts(timeMs);
  const offset = parts.find((part) => part.type === 'timeZoneName')?.value.replace('GMT', 'UTC') ?? '';
  return offset === '' ? timeZone : `${timeZone.replace(/_/g, ' ')} (${offset.replace('-', '\u2212')})`;
}

/** Minutes past midnight on the clock of a zone. Units: epoch ms. */
export function minuteOfDay(timeMs: number, timeZone: string): number {
  const [hours = '0', minutes = '0'] = formatClock(timeMs, timeZone).split(':');
  return Number(hours) * 60 + Number(minutes);
}

function formatter(timeZone: string, options: Intl.DateTimeFormatOptions): Intl.DateTimeFormat {
  const key = `${timeZone}|${Object.keys(options).join()}`;
  const known = formatters.get(key);
  if (known !== undefined) return known;
  if (formatters.size >= maxFormatters) formatters.clear();
  const made = new Intl.DateTimeFormat('en-GB', { ...options, timeZone: usableZone(timeZone) });
  formatters.set(key, made);
  return made;
}

/** A browser may lack a zone that the server knows; UTC is then shown rather than nothing. */
function usableZone(timeZone: string): string {
  try {
    return new Intl.DateTimeFormat('en', { timeZone }).resolvedOptions().timeZone;
  } catch {
    return 'UTC';
  }
}
