/** Times on paper: one zone for a sheet, the date always written out. */

/** Writes an RFC 3339 time in the zone of the sheet. */
export type WriteTime = (at: string) => string;

const formatters = new Map<string, Intl.DateTimeFormat>();
const mostFormatters = 100;

/** Day and minute, such as "2026-03-02 06:15". Units: epoch ms. */
export function timeOf(atMs: number, timeZone: string): string {
  const { year, month, day, hour, minute } = partsOf(atMs, timeZone);
  return `${year}-${month}-${day} ${hour}:${minute}`;
}

/** The day, such as "2026-03-02". Units: epoch ms. */
export function dayOf(atMs: number, timeZone: string): string {
  const { year, month, day } = partsOf(atMs, timeZone);
  return `${year}-${month}-${day}`;
}

/** A length such as "45 s", "12 min", "3 h 05 min" or "12 d 4 h". Units: seconds. */
export function lengthText(lengthS: number): string {
  if (lengthS < 120) return `${Math.round(lengthS)} s`;
  const minutes = Math.round(lengthS / 60);
  if (minutes < 120) return `${minutes} min`;
  if (minutes < 48 * 60) return `${Math.floor(minutes / 60)} h ${String(minutes % 60).padStart(2, '0')} min`;
  const hours = Math.round(lengthS / 3600);
  return `${Math.floor(hours / 24)} d ${hours % 24} h`;
}

function partsOf(atMs: number, timeZone: string): Record<string, string> {
  let format = formatters.get(timeZone);
  if (format === undefined) {
    if (formatters.size >= mostFormatters) formatters.clear();
    format = new Intl.DateTimeFormat('en-CA', {
      timeZone,
      hourCycle: 'h23',
      year: 'numeric',
      month: '2-digit',
      day: '2-digit',
      hour: '2-digit',
      minute: '2-digit',
    });
    formatters.set(timeZone, format);
  }
  return Object.fromEntries(format.formatToParts(atMs).map(({ type, value }) => [type, value]));
}
