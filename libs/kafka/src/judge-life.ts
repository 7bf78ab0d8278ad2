/** Whether a consumer still does its work. */

export interface SignsOfLife {
  readonly startedMs: number;
  readonly lastFetchMs: number;
  readonly lastHeartbeatMs: number;
  /** When a batch was last handled, or a handler at work last said that it is alive. */
  readonly lastProgressMs: number;
  /** Since when there have been messages to handle; null while there are none. */
  readonly behindSinceMs: number | null;
}

export type StuckReason = 'no-fetch' | 'no-heartbeat' | 'no-progress';

/** Why a consumer is stuck at `nowMs`, or null; times of one clock, in ms. */
export function judgeLife(signs: SignsOfLife, nowMs: number, stuckAfterMs: number): StuckReason | null {
  const isOld = (sinceMs: number) => nowMs - Math.max(sinceMs, signs.startedMs) > stuckAfterMs;
  if (isOld(signs.lastFetchMs)) return 'no-fetch';
  if (isOld(signs.lastHeartbeatMs)) return 'no-heartbeat';
  if (signs.behindSinceMs === null) return null;
  return isOld(Math.max(signs.lastProgressMs, signs.behindSinceMs)) ? 'no-progress' : null;
}
