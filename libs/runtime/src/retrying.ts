/** Tries again what failed for a reason that passes. */

import { setTimeout as sleep } from 'node:timers/promises';
import { OperatingError } from './operating-error.js';

export interface RetryOptions {
  readonly firstMs: number;
  readonly longestMs: number;
  /** Ends the waiting; the failure at hand is then thrown. */
  readonly signal: AbortSignal;
  /** Called before each wait. */
  readonly onRetry: (error: OperatingError, waitMs: number) => void;
}

/**
 * Runs a job until it succeeds, with waits that double.
 *
 * Errors: whatever a retry does not mend; after the signal also what it would.
 */
export async function retrying<T>(job: () => Promise<T>, options: RetryOptions): Promise<T> {
  for (let waitMs = options.firstMs; ; waitMs = Math.min(waitMs * 2, options.longestMs)) {
    try {
      return await job();
    } catch (error) {
      if (!(error instanceof OperatingError) || !error.isRetriable || options.signal.aborted) throw error;
      options.onRetry(error, waitMs);
      await sleep(waitMs, undefined, { signal: options.signal }).catch(() => {});
    }
  }
}
