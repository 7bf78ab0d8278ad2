/** Times of messages: RFC 3339 or epoch milliseconds, to epoch milliseconds. */

const instantText = /^(\d{4})-(\d\d)-(\d\d)[Tt ](\d\d):(\d\d):(\d\d)(?:\.(\d+))?(?:[Zz]|([+-])(\d\d):(\d\d))$/;
const daysInMonth = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31] as const;
const [zero, dash, colon, point, upperT, upperZ] = [48, 45, 58, 46, 84, 90];
/** Longest text worth looking at: an instant with nanoseconds and an offset has 35 characters. */
const longestText = 40;

/**
 * A time of a message as UTC epoch ms, rounded down to a millisecond.
 *
 * Missing: NaN when it is neither a finite number nor an instant of RFC 3339 with an offset.
 * Source: RFC 3339, 5.6; a leap second is taken as the first instant after it, as in POSIX time.
 */
export function messageTimeMs(time: unknown): number {
  if (typeof time === 'number') return Number.isFinite(time) ? Math.floor(time) : Number.NaN;
  if (typeof time !== 'string' || time.length > longestText) return Number.NaN;
  const usualMs = usualInstantMs(time);
  if (usualMs === usualMs) return usualMs;
  const parts = instantText.exec(time);
  if (parts === null) return Number.NaN;
  const year = Number(parts[1]);
  const month = Number(parts[2]);
  const day = Number(parts[3]);
  const second = Number(parts[6]);
  if (day < 1 || day > lastDay(year, month) || second > 60) return Number.NaN;
  const dateMs = Date.UTC(year, month - 1, day) + timeOfDayMs(Number(parts[4]), Number(parts[5])) + second * 1000;
  return dateMs + fractionMs(parts[7]) - offsetMs(parts[8], Number(parts[9] ?? 0), Number(parts[10] ?? 0));
}

/**
 * The two forms that machines mostly write, to the second or the millisecond in UTC, without a regular expression;
 * NaN for every other text, also for some that are instants.
 */
function usualInstantMs(text: string): number {
  const length = text.length;
  if ((length !== 20 && length !== 24) || text.charCodeAt(length - 1) !== upperZ) return Number.NaN;
  if (text.charCodeAt(4) !== dash || text.charCodeAt(7) !== dash || text.charCodeAt(10) !== upperT) return Number.NaN;
  if (text.charCodeAt(13) !== colon || text.charCodeAt(16) !== colon) return Number.NaN;
  if (length === 24 && text.charCodeAt(19) !== point) return Number.NaN;
  const year = digits(text, 0, 4);
  const month = digits(text, 5, 7);
  const day = digits(text, 8, 10);
  const second = digits(text, 17, 19);
  // Every shorter month and the leap second are left to the long way.
  if (!(year >= 1970 && month >= 1 && month <= 12 && day >= 1 && day <= 28 && second <= 59)) return Number.NaN;
  const thousandths = length === 24 ? digits(text, 20, 23) : 0;
  const dayMs = timeOfDayMs(digits(text, 11, 13), digits(text, 14, 16));
  return daysBefore(year, month, day) * 86_400_000 + dayMs + second * 1000 + thousandths;
}

/** A number of a few digits; NaN when one of them is none. */
function digits(text: string, from: number, to: number): number {
  let number = 0;
  for (let i = from; i < to; i++) {
    const digit = text.charCodeAt(i) - zero;
    if (digit < 0 || digit > 9) return Number.NaN;
    number = number * 10 + digit;
  }
  return number;
}

/** Days from 1970-01-01; years begin in March, so that the leap day comes last. Range: years from 1970. */
function daysBefore(year: number, month: number, day: number): number {
  const y = month > 2 ? year : year - 1;
  const dayOfYear = Math.floor((153 * (month > 2 ? month - 3 : month + 9) + 2) / 5) + day - 1;
  return y * 365 + Math.floor(y / 4) - Math.floor(y / 100) + Math.floor(y / 400) + dayOfYear - 719_468;
}

function lastDay(year: number, month: number): number {
  const isLeap = (year % 4 === 0 && year % 100 !== 0) || year % 400 === 0;
  return month === 2 && isLeap ? 29 : (daysInMonth[month - 1] ?? 0);
}

function timeOfDayMs(hour: number, minute: number): number {
  return hour <= 23 && minute <= 59 ? (hour * 60 + minute) * 60_000 : Number.NaN;
}

function fractionMs(fraction: string | undefined): number {
  return fraction === undefined ? 0 : Number(fraction.slice(0, 3).padEnd(3, '0'));
}

function offsetMs(sign: string | undefined, hours: number, minutes: number): number {
  if (sign === undefined) return 0;
  return (sign === '-' ? -1 : 1) * timeOfDayMs(hours, minutes);
}
