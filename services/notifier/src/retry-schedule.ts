/** When a delivery that failed is tried again: waits that double, with jitter, for a day. */

/** Source: Standard Webhooks specification, "Deliverability and reliability": tries over more than a day at growing distance. */
export interface RetrySchedule {
  readonly firstMs: number;
  readonly longestMs: number;
  /** After so long since the first try it is given up. */
  readonly giveUpAfterMs: number;
}

export const usualRetrySchedule: RetrySchedule = {
  firstMs: 5_000,
  longestMs: 3 * 3_600_000,
  giveUpAfterMs: 24 * 3_600_000,
};

export interface FailedTry {
  /** Tries so far, the one that failed included; 1 or more. */
  readonly attempts: number;
  readonly firstTriedMs: number;
  readonly nowMs: number;
  /** The receiver's wish, ms; null without one. */
  readonly retryAfterMs: number | null;
}

/**
 * Time of the next try in epoch ms, or null when it is given up.
 *
 * The wait lies between half and all of a doubling span, so that receivers that come back are not met by all at once.
 * @param random a number 0..1
 */
export function nextTryMs(failed: FailedTry, schedule: RetrySchedule, random: number): number | null {
  const span = Math.min(schedule.longestMs, schedule.firstMs * 2 ** Math.min(40, failed.attempts - 1));
  const waitMs = Math.max(Math.round(span * (0.5 + random / 2)), failed.retryAfterMs ?? 0);
  const atMs = failed.nowMs + waitMs;
  return atMs - failed.firstTriedMs > schedule.giveUpAfterMs ? null : atMs;
}
