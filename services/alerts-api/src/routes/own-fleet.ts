/** The fleet that a request is about. */

import type { Caller } from '../access/caller.js';
import { ProblemError } from '../http/problem.js';

/**
 * The fleet asked for; where none was, the caller's only one, or `main` for whoever sees all.
 *
 * Errors: the problem `fleet-not-yours`, and `invalid-request` for a caller of several fleets who names none.
 */
export function ownFleet({ fleets, name }: Caller, asked: string | undefined): string {
  if (asked !== undefined) {
    if (fleets === 'all' || fleets.includes(asked)) return asked;
    throw new ProblemError('fleet-not-yours', `"${name}" does not see the fleet "${asked}".`);
  }
  if (fleets === 'all') return 'main';
  const [only] = fleets;
  if (only !== undefined && fleets.length === 1) return only;
  const message = `Say which fleet: ${fleets.join(', ')}.`;
  throw new ProblemError('invalid-request', message, [{ path: 'fleetId', message }]);
}
