/** Lengths of time in words. */

const nbsp = '\u00a0';
const minuteS = 60;
const hourS = 3600;
const dayS = 86_400;

/**
 * A length of time as a reader says it: "45 s", "12 min", "1 h 12 min", "2 d 3 h".
 *
 * Units: seconds. Missing: a negative or non-finite length gives "unknown".
 */
export function formatDuration(lengthS: number): string {
  if (!Number.isFinite(lengthS) || lengthS < 0) return 'unknown';
  if (Math.round(lengthS) < minuteS) return `${Math.round(lengthS)}${nbsp}s`;
  const minutes = Math.round(lengthS / minuteS);
  if (minutes < 60) return `${minutes}${nbsp}min`;
  if (minutes < dayS / minuteS) return pair(Math.floor(minutes / 60), 'h', minutes % 60, 'min');
  const hours = Math.round(lengthS / hourS);
  return pair(Math.floor(hours / 24), 'd', hours % 24, 'h');
}

/**
 * Hours and minutes for a column of figures: "4 h 05", "0 h 00".
 *
 * Units: seconds. Missing: a negative or non-finite length gives a dash.
 */
export function formatHours(lengthS: number): string {
  if (!Number.isFinite(lengthS) || lengthS < 0) return '–';
  const minutes = Math.round(lengthS / minuteS);
  return `${Math.floor(minutes / 60)}${nbsp}h${nbsp}${String(minutes % 60).padStart(2, '0')}`;
}

function pair(large: number, largeUnit: string, small: number, smallUnit: string): string {
  const head = `${large}${nbsp}${largeUnit}`;
  return small === 0 ? head : `${head} ${small}${nbsp}${smallUnit}`;
}
