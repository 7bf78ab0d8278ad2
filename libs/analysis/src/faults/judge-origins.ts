/** From scores to an answer: found, several, or unknown. */

import type { InquiryVerdict } from './derate-inquiry.js';
import { explains } from './explains.js';
import type { ScoredTrouble } from './score-troubles.js';

export interface Judgement {
  readonly ranked: readonly ScoredTrouble[];
  readonly origins: readonly ScoredTrouble[];
  readonly verdict: InquiryVerdict;
  readonly confidence: number;
  likelihoodOf(one: ScoredTrouble): number;
}

/** Weight of everything that was not recorded. Source: engineering judgement, checked against simulated derates. */
const unknownWeight = 0.25;
/** Less than this explains nothing. Source: engineering judgement. */
const leastScore = 0.15;
/** What is named is likelier than all else together, and leads the second. Source: engineering judgement. */
const leastLikelihood = 0.5;
const leastLead = 1.5;
/** Score from which a trouble is an origin of its own beside another. Source: engineering judgement. */
const independentScore = 0.5;
const independentLead = 2;
/** Origins that may stand beside each other. */
const maxOrigins = 3;

/** Ranks and judges. Ties go to the earlier start, then to the smaller id, so that order of arrival is no matter. */
export function judgeOrigins(scored: readonly ScoredTrouble[]): Judgement {
  const ranked = [...scored].sort(
    (a, b) =>
      b.score - a.score ||
      a.trouble.firstMs - b.trouble.firstMs ||
      (a.trouble.anchor.id < b.trouble.anchor.id ? -1 : 1),
  );
  // What only follows from another says nothing against it.
  const isFollower = ({ explainedBy }: ScoredTrouble) => explainedBy.length > 0;
  const total = ranked.reduce((sum, one) => sum + (isFollower(one) ? 0 : one.score), unknownWeight);
  const likelihoodOf = (one: ScoredTrouble) => one.score / (total + (isFollower(one) ? one.score : 0));
  const origins = originsAmong(ranked, likelihoodOf);
  const verdict = origins.length === 0 ? 'unknown' : origins.length === 1 ? 'found' : 'several';
  const confidence = origins.reduce((sum, one) => sum + likelihoodOf(one), 0);
  return { ranked, origins, verdict, confidence, likelihoodOf };
}

function originsAmong(ranked: readonly ScoredTrouble[], likelihoodOf: (one: ScoredTrouble) => number): ScoredTrouble[] {
  const [first, ...others] = ranked;
  if (first === undefined || first.score < leastScore) return [];
  const strong = ranked.filter(
    (one) =>
      one.score >= independentScore &&
      one.score * independentLead >= first.score &&
      !ranked.some((other) => other !== one && other.score >= independentScore && explains(other.trouble, one.trouble)),
  );
  const together = strong.reduce((sum, one) => sum + likelihoodOf(one), 0);
  if (strong.length > 1 && strong.length <= maxOrigins && together >= leastLikelihood) return strong;
  const second = others.find((other) => !explains(first.trouble, other.trouble));
  const lead = second === undefined ? Number.POSITIVE_INFINITY : first.score / second.score;
  const isClear = likelihoodOf(first) >= leastLikelihood && lead >= leastLead;
  return isClear ? [first] : [];
}
