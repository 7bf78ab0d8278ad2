/** Old deliveries go, so that the log stays bounded. */

import { setTimeout as sleep } from 'node:timers/promises';
import type { Logger } from '@warmbrick/runtime';
import type { Store } from '@warmbrick/store';

/** How long settled deliveries stay, how often is looked, and how many go at once. Source: engineering judgement. */
const keptMs = 90 * 24 * 3_600_000;
const everyMs = 3_600_000;
const atOnce = 5000;

/** Runs until the signal. */
export async function retireUntil(
  { store, logger, now }: { store: Pick<Store, 'retireDeliveries'>; logger: Pick<Logger, 'warn'>; now: () => number },
  signal: AbortSignal,
): Promise<void> {
  while (!signal.aborted) {
    try {
      while (!signal.aborted && (await store.retireDeliveries(now() - keptMs, atOnce)) === atOnce);
    } catch (error) {
      logger.warn({ err: error }, 'old deliveries could not be deleted');
    }
    await sleep(everyMs, undefined, { signal }).catch(() => {});
  }
}
