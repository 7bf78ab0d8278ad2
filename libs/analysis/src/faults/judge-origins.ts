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
/** Least likelihood of the first, and its lead over the second, to name it alone. Source: engineering judgement. */
const leastLikelihood = 0.4;
const leastLead = 1.5;
/** Score from which a trouble is an origin of its own beside another. Source: engineering judgement. */
const independentScore = 0.5;
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
  const total = ranked.reduce((sum, { score }) => sum + score, unknownWeight);
  const likelihoodOf = ({ score }: ScoredTrouble) => score / total;
  const origins = originsAmong(ranked, likelihoodOf);
  const verdict = origins.length === 0 ? 'unknown' : origins.length === 1 ? 'found' : 'several';
  const confidence = origins.reduce((sum, one) => sum + likelihoodOf(one), 0);
  return { ranked, origins, verdict, confidence, likelihoodOf };
}

function originsAmong(ranked: readonly ScoredTrouble[], likelihoodOf: (one: ScoredTrouble) => number): ScoredTrouble[] {
  const [first, second] = ranked;
  if (first === undefined || first.score < leastScore) return [];
  const strong = ranked.filter(
    (one) =>
      one.score >= independentScore &&
      one.score * leastLead >= first.score &&
      !ranked.some((other) => other !== one && other.score >= independentScore && explains(other.trouble, one.trouble)),
  );
  if (strong.length > 1 && strong.length <= maxOrigins) return strong;
  const lead = second === undefined ? Number.POSITIVE_INFINITY : first.score / second.score;
  const isClear = likelihoodOf(first) >= leastLikelihood && lead >= leastLead;
  return isClear ? [first] : [];
}
