/** The set that a search recommends, and the sets that no other beats in every respect. */

import type { FigureName } from '../outcomes/outcome-figures.js';
import type { Evaluation } from './run-search.js';
import { distance } from './threshold-space.js';

/** Costs this near each other are the same. Source: engineering judgement: far below what any fleet can tell apart. */
const sameCostRatio = 1e-9;
/** Sets compared with each other for the middle one at most. */
const mostTied = 400;

/**
 * The cheapest set. Among equals the one that was searched from, else the one in their middle: at the edge of what is
 * equally good here, other machines may already do worse.
 *
 * Shapes: at least one evaluation; the first is the set searched from.
 */
export function cheapest(evaluations: readonly Evaluation[]): Evaluation {
  const first = evaluations[0] as Evaluation;
  const costs = evaluations.map(({ figures }) => figures.costPerMachineMonth);
  const least = Math.min(...costs.filter((cost) => !Number.isNaN(cost)));
  const limit = least + Math.abs(least) * sameCostRatio;
  const tied = evaluations.filter(({ figures }) => figures.costPerMachineMonth <= limit);
  if (tied.length === 0 || tied.includes(first)) return first;
  const some = tied.slice(0, mostTied);
  const apart = some.map((one) => some.reduce((sum, other) => sum + distance(one.point, other.point), 0));
  return some[apart.indexOf(Math.min(...apart))] as Evaluation;
}

/** Figures of which more is better; of all others less is. */
const moreIsBetter: ReadonlySet<FigureName> = new Set<FigureName>(['hitRatio', 'rightRatio', 'leadH']);

/**
 * The sets that no other beats: none is at least as good in all objectives and better in one. Cheapest in the first objective
 * first. Missing: a set without a value in an objective is as bad in it as can be.
 */
export function paretoFront(evaluations: readonly Evaluation[], objectives: readonly FigureName[]): Evaluation[] {
  const rows = evaluations.map((one) => ({ one, costs: objectives.map((name) => costIn(one, name)) }));
  const front = rows.filter(
    ({ costs }, i) =>
      !rows.some(
        (other, j) =>
          other.costs.every((cost, k) => cost <= (costs[k] as number)) &&
          (other.costs.some((cost, k) => cost < (costs[k] as number)) || (j < i && sameCosts(other.costs, costs))),
      ),
  );
  return front.sort((a, b) => (a.costs[0] as number) - (b.costs[0] as number)).map(({ one }) => one);
}

function costIn({ figures }: Evaluation, name: FigureName): number {
  const value = figures[name];
  if (Number.isNaN(value)) return Number.POSITIVE_INFINITY;
  return moreIsBetter.has(name) ? -value : value;
}

function sameCosts(a: readonly number[], b: readonly number[]): boolean {
  return a.every((cost, k) => cost === b[k]);
}
