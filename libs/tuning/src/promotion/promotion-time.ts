/** When a promotion may begin. */

/**
 * A set that leaves the past alone begins no sooner than this after it was promoted, so that every member of a group knows of
 * it in time. Unit: ms. Source: design decision; members look every half minute.
 */
export const promotionLeadMs = 120_000;

/**
 * The machine time from which a promotion judges: as asked, or as soon as can be.
 *
 * Missing: null when it was asked for a time that has passed or is too near, without computing the past anew.
 */
export function promotionStartMs(
  askedMs: number | null,
  { nowMs, isRecomputed }: { readonly nowMs: number; readonly isRecomputed: boolean },
): number | null {
  const soonestMs = nowMs + promotionLeadMs;
  if (askedMs === null) return soonestMs;
  return isRecomputed || askedMs >= soonestMs ? askedMs : null;
}
