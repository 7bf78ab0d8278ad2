/** The range of time that a query asks for. */

import { parseInstant } from '../http/instant.js';
import { type FieldError, ProblemError } from '../http/problem.js';

const dayMs = 86_400_000;

export interface RangeRules {
  /** Where the range ends when the query does not say. */
  readonly usualToMs: number;
  readonly usualDays: number;
  readonly mostDays: number;
}

/**
 * The range [fromMs, toMs) of a query; what is missing is `usualDays` long and ends at `usualToMs`.
 *
 * Errors: the problem `invalid-request` for a range that is empty or longer than `mostDays`.
 */
export function queryRange(query: { from?: string | undefined; to?: string | undefined }, rules: RangeRules) {
  const usualMs = rules.usualDays * dayMs;
  const givenFromMs = query.from === undefined ? null : parseInstant(query.from);
  const givenToMs = query.to === undefined ? null : parseInstant(query.to);
  const toMs = givenToMs ?? (givenFromMs === null ? rules.usualToMs : givenFromMs + usualMs);
  const fromMs = givenFromMs ?? toMs - usualMs;
  const errors: FieldError[] = [];
  if (fromMs >= toMs) errors.push({ path: 'query.from', message: '"from" must be before "to".' });
  if (toMs - fromMs > rules.mostDays * dayMs) {
    errors.push({ path: 'query.to', message: `At most ${rules.mostDays} days at a time; ask for several ranges.` });
  }
  if (errors.length > 0) throw new ProblemError('invalid-request', 'The range of time is not valid.', errors);
  return { fromMs, toMs };
}
