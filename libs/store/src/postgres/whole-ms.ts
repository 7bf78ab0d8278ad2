/** Bounds of time as the database takes them. */

/** A bound as a whole number of milliseconds; infinities become the farthest there is. */
export function wholeMs(timeMs: number): number {
  return Math.ceil(Math.max(-Number.MAX_SAFE_INTEGER, Math.min(Number.MAX_SAFE_INTEGER, timeMs)));
}
