/** Minute marks: detectors of slow signals read them at the first sample of each minute of the machine's time. */

/** Slow signals are read once in so many milliseconds. Source: engineering judgement; tanks and bricks are slower. */
export const minuteMs = 60_000;

/**
 * First index from `from` on whose time is at or after `targetMs`; `to` when there is none.
 *
 * Shapes: times rise strictly between `from` and `to`. Looks at few of them: a leap of the usual minute first.
 */
export function firstAtOrAfter(timeMs: Float64Array, range: { from: number; to: number }, targetMs: number): number {
  let low = range.from;
  let step = 64;
  let high = low;
  while (high < range.to && (timeMs[high] as number) < targetMs) {
    low = high + 1;
    high = Math.min(range.to, high + step);
    step *= 2;
  }
  while (low < high) {
    const middle = (low + high) >>> 1;
    if ((timeMs[middle] as number) < targetMs) low = middle + 1;
    else high = middle;
  }
  return low;
}

/** The first mark after a time. */
export function markAfterMs(atMs: number): number {
  return (Math.floor(atMs / minuteMs) + 1) * minuteMs;
}
