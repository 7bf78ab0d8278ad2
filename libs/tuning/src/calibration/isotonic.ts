/** The rising curve that fits best: from a score to the chance of what it warns of. */

export interface IsotonicStep {
  /** Highest score of the step. */
  readonly upTo: number;
  /** Share of its moments at which it came. */
  readonly chance: number;
  readonly moments: number;
}

/**
 * Fits a step function that never falls, by pooling neighbours that do.
 *
 * Shapes: steps in rising order of score; moments of one score are in one step.
 * Source: pool-adjacent-violators, Ayer et al., Annals of Mathematical Statistics 26 (1955); Barlow et al. (1972).
 */
export function fitIsotonic(points: readonly { readonly score: number; readonly came: number }[]): IsotonicStep[] {
  const sorted = [...points].sort((a, b) => a.score - b.score);
  const pools: { upTo: number; sum: number; moments: number }[] = [];
  for (const { score, came } of sorted) {
    const last = pools.at(-1);
    if (last !== undefined && last.upTo === score) {
      last.sum += came;
      last.moments++;
    } else pools.push({ upTo: score, sum: came, moments: 1 });
  }
  const kept: typeof pools = [];
  for (const pool of pools) {
    kept.push({ ...pool });
    for (let last = kept.length - 1; last > 0 && isFalling(kept[last - 1], kept[last]); last--) {
      const { upTo, sum, moments } = kept.pop() as (typeof pools)[number];
      const before = kept[last - 1] as (typeof pools)[number];
      before.upTo = upTo;
      before.sum += sum;
      before.moments += moments;
    }
  }
  return kept.map(({ upTo, sum, moments }) => ({ upTo, chance: sum / moments, moments }));
}

function isFalling(
  a: { readonly sum: number; readonly moments: number } | undefined,
  b: { readonly sum: number; readonly moments: number } | undefined,
): boolean {
  return a !== undefined && b !== undefined && a.sum / a.moments >= b.sum / b.moments;
}

/** Chance at a score; beyond the highest step that of the highest. Missing: NaN without steps. */
export function chanceAt(steps: readonly IsotonicStep[], score: number): number {
  return (steps.find(({ upTo }) => score <= upTo) ?? steps.at(-1))?.chance ?? Number.NaN;
}
