/** A promotion in one line. */

import type { PromotionDocument } from '@warmbrick/contracts';

/** What was promoted for what, from when, what happens to the past, by whom and why. */
export function promotionWords(promotion: PromotionDocument): string {
  const { id, version, scope, from, isRecomputed, recomputedMachines, author, reason } = promotion;
  const what = version ?? 'no set of its own';
  const whom = scope.kind === 'all' ? 'all machines' : `${scope.kind} ${scope.name}`;
  const past = isRecomputed ? `past computed anew (${recomputedMachines} machines so far)` : 'past left as it was';
  return `${id}: ${what} for ${whom} from ${from}, ${past}; ${author}: ${reason}`;
}
