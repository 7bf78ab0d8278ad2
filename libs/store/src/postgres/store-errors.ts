/** What PostgreSQL and its driver report, as errors that the services can act on. */

import { OperatingError } from '@warmbrick/runtime';

/**
 * SQLSTATE classes and codes after which the same transaction may succeed.
 * Source: PostgreSQL documentation, appendix A: connection failures, transaction rollbacks, resources, lock, statement
 * and idle timeouts, shutdowns.
 */
const retriableStates = /^(08|40|53|57P0|55P03|57014|25P03|25P04)/;

/** States that a person has to mend: wrong password, no such database, no permission. */
const refusedStates = /^(28|3D000|42501|0A000|25006)/;

const unreachableCodes = new Set([
  'ECONNREFUSED',
  'ECONNRESET',
  'ENOENT',
  'EPIPE',
  'ETIMEDOUT',
  'EHOSTUNREACH',
  'ENETUNREACH',
  'ENOTFOUND',
  'EAI_AGAIN',
  'EACCES',
]);

/** Messages of the driver for connections that went away; they carry no code. */
const lostMessages =
  /Connection terminated|connection timeout|timeout exceeded when trying to connect|Client has encountered a connection error|not queryable|Cannot use a pool after calling end/i;

/** The operating error for a failure of the database, or the error itself when it is a bug of ours. */
export function toStoreError(error: unknown): unknown {
  if (error instanceof OperatingError || !(error instanceof Error)) return error;
  const code = (error as { code?: unknown }).code;
  const state = typeof code === 'string' ? code : '';
  if (retriableStates.test(state) || unreachableCodes.has(state) || lostMessages.test(error.message)) {
    return new OperatingError(`The database does not answer as it should: ${error.message}`, {
      code: 'store-unavailable',
      isRetriable: true,
      remedy: 'Tried again by itself; check that the database is running if this goes on.',
      cause: error,
    });
  }
  if (refusedStates.test(state)) {
    return new OperatingError(`The database refuses: ${error.message}`, {
      code: 'store-refused',
      remedy: 'Check the user, the password and the name of the database in DATABASE_URL.',
      cause: error,
    });
  }
  return error;
}
