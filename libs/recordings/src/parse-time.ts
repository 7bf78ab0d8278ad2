/** Times as recordings write them. */

/** Earliest and latest time taken, UTC epoch ms: 1970-01-01 and 2100-01-01. Source: engineering judgement. */
const earliestMs = 0;
const latestMs = 4_102_444_800_000;

const epochText = /^\d{1,16}(\.\d+)?$/;
/** Source: RFC 3339, 5.6; a blank or a lower-case letter in place of the T and Z is allowed there. */
const instantText = /^(\d{4})-(\d\d)-(\d\d)[Tt ](\d\d):(\d\d):(\d\d)(?:\.(\d+))?(?:[Zz]|([+-])(\d\d):(\d\d))$/;
const daysInMonth = [31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31] as const;

/** Whether a time is one that a recording can hold. Missing: NaN is not. */
export function isUsableTime(timeMs: number): boolean {
  return timeMs >= earliestMs && timeMs <= latestMs;
}

/**
 * A time of RFC 3339 with any offset, or a count of epoch milliseconds, as UTC epoch ms rounded down to a millisecond.
 *
 * Missing: NaN when the text is neither, when it has no offset, or when it lies outside 1970-2100.
 */
export function parseTime(text: string): number {
  const timeMs = epochText.test(text) ? Math.floor(Number(text)) : parseInstant(text);
  return isUsableTime(timeMs) ? timeMs : Number.NaN;
}

function parseInstant(text: string): number {
  const parts = instantText.exec(text);
  if (parts === null) return Number.NaN;
  const month = Number(parts[2]);
  const day = Number(parts[3]);
  const hour = Number(parts[4]);
  const minute = Number(parts[5]);
  const second = Number(parts[6]);
  // RFC 3339 writes a leap second as :60; it falls on the first instant after it, as in POSIX time.
  if (hour > 23 || minute > 59 || second > 60) return Number.NaN;
  if (day < 1 || day > (daysInMonth[month - 1] ?? 0)) return Number.NaN;
  const dateMs = Date.UTC(Number(parts[1]), month - 1, day, hour, minute, second);
  if (second < 60 && new Date(dateMs).getUTCDate() !== day) return Number.NaN;
  const fractionMs = Math.floor(Number(`0.${parts[7] ?? '0'}`.slice(0, 8)) * 1000 + 1e-6);
  return dateMs + fractionMs - offsetMs(parts[8], Number(parts[9] ?? 0), Number(parts[10] ?? 0));
}

function offsetMs(sign: string | undefined, hours: number, minutes: number): number {
  if (hours > 23 || minutes > 59) return Number.NaN;
  return (sign === '-' ? -1 : 1) * (hours * 60 + minutes) * 60_000;
}
