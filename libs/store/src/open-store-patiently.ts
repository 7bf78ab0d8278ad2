/** A store that is still down when the process starts: both are started together as a rule. */

import { OperatingError, retrying } from '@warmbrick/runtime';

export interface PatienceOptions {
  readonly logger: { warn(fields: object, message: string): void };
  /** How long it is tried again. */
  readonly waitMs: number;
  /** Ends the waiting before that. */
  readonly signal?: AbortSignal | undefined;
}

/** Waits between tries. Source: engineering judgement. */
const firstMs = 250;
const longestMs = 10_000;

/**
 * Opens a store, again and again while it does not answer.
 *
 * Errors: what a retry does not mend, at once; after the time, OperatingError `store-unavailable` that says how long it took.
 */
export async function openStorePatiently<T>(open: () => Promise<T>, options: PatienceOptions): Promise<T> {
  const { logger, waitMs, signal } = options;
  const startedMs = performance.now();
  const waitedS = () => Math.round((performance.now() - startedMs) / 1000);
  const patience = AbortSignal.timeout(waitMs);
  try {
    return await retrying(open, {
      firstMs,
      longestMs,
      signal: signal === undefined ? patience : AbortSignal.any([patience, signal]),
      onRetry: (error, nextMs) =>
        logger.warn(
          {
            code: error.code,
            detail: error.message,
            waitedS: waitedS(),
            givenUpAfterS: Math.round(waitMs / 1000),
            nextMs,
          },
          'the database does not answer; waiting for it',
        ),
    });
  } catch (error) {
    if (!(error instanceof OperatingError) || !error.isRetriable) throw error;
    throw new OperatingError(`The database did not answer for ${waitedS()} s.`, {
      code: error.code,
      isRetriable: true,
      remedy: 'Check that it is running and that DATABASE_URL leads to it, then start again.',
      cause: error,
    });
  }
}
