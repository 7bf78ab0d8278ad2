/** The span of time that the charts show, and how it moves. */

export interface TimeRange {
  readonly fromMs: number;
  readonly toMs: number;
}

/** The range in force and what moves it. */
export interface RangeMove {
  readonly range: TimeRange;
  readonly select: (range: TimeRange) => void;
  /** Back to the machine's last day. */
  readonly reset: () => void;
}

/** Shortest and longest span that can be shown. Source: design decision. */
const shortestMs = 60_000;
const longestMs = 31 * 86_400_000;
/** What is shown until a reader zooms: the machine's last day. */
export const usualMs = 86_400_000;

/** The range that the address asks for. Missing: null when it asks for none or for nonsense. */
export function rangeFromQuery(from: string | null, to: string | null): TimeRange | null {
  const fromMs = Date.parse(from ?? '');
  const toMs = Date.parse(to ?? '');
  return Number.isFinite(fromMs) && Number.isFinite(toMs) && toMs > fromMs ? boundRange({ fromMs, toMs }) : null;
}

/** The range as the address writes it: RFC 3339, to the second. */
export function rangeToQuery(range: TimeRange): { from: string; to: string } {
  const text = (timeMs: number) => new Date(Math.round(timeMs / 1000) * 1000).toISOString().replace('.000Z', 'Z');
  return { from: text(range.fromMs), to: text(range.toMs) };
}

/** The same middle, a length multiplied by the factor. Range: kept between a minute and 31 days. */
export function zoomRange(range: TimeRange, factor: number): TimeRange {
  const middleMs = (range.fromMs + range.toMs) / 2;
  const halfMs = ((range.toMs - range.fromMs) * factor) / 2;
  return boundRange({ fromMs: middleMs - halfMs, toMs: middleMs + halfMs });
}

/** The same length, moved by a share of it; negative is earlier. */
export function shiftRange(range: TimeRange, shareRatio: number): TimeRange {
  const stepMs = (range.toMs - range.fromMs) * shareRatio;
  return { fromMs: range.fromMs + stepMs, toMs: range.toMs + stepMs };
}

/** A range around a finding with as much again on either side, and at least ten minutes in all. */
export function rangeAround(startedMs: number, endedMs: number): TimeRange {
  const marginMs = Math.max((endedMs - startedMs) / 2, 300_000);
  return boundRange({ fromMs: startedMs - marginMs, toMs: endedMs + marginMs });
}

/**
 * The range that a key asks for: arrows move, plus and minus zoom.
 *
 * Missing: null for any other key; "reset" for Home and 0.
 */
export function rangeOfKey(key: string, range: TimeRange): TimeRange | 'reset' | null {
  if (key === 'ArrowLeft') return shiftRange(range, -0.25);
  if (key === 'ArrowRight') return shiftRange(range, 0.25);
  if (key === '+' || key === '=') return zoomRange(range, 0.5);
  if (key === '-') return zoomRange(range, 2);
  return key === 'Home' || key === '0' ? 'reset' : null;
}

function boundRange(range: TimeRange): TimeRange {
  const lengthMs = range.toMs - range.fromMs;
  const wantedMs = Math.min(longestMs, Math.max(shortestMs, lengthMs));
  if (wantedMs === lengthMs) return range;
  const middleMs = (range.fromMs + range.toMs) / 2;
  return { fromMs: middleMs - wantedMs / 2, toMs: middleMs + wantedMs / 2 };
}
