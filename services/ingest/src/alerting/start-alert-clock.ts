/** Lets time pass for alerts: delays, shelves, escalation, silence. Any number of processes may run one. */

import { OperatingError } from '@warmbrick/runtime';
import type { Store } from '@warmbrick/store';
import type { IngestLogger } from '../ingest-types.js';

export interface AlertClockOptions {
  readonly store: Pick<Store, 'tickAlerts'>;
  readonly logger: IngestLogger;
  /** The wall clock in UTC epoch ms. */
  readonly now?: () => number;
  /** Between looks, ms. */
  readonly everyMs?: number;
}

export interface AlertClock {
  /** Resolves when a look under way has ended. */
  stop(): Promise<void>;
}

/** Between looks. Source: engineering judgement: delays are minutes, and a look that finds nothing reads one index. */
const usualEveryMs = 1000;
/** Machines of one transaction. */
const perTransaction = 200;
/** Transactions of one look; what is left waits for the next. */
const mostTransactions = 50;

/** Starts looking. A look that fails is logged, and the next one tries again. */
export function startAlertClock(options: AlertClockOptions): AlertClock {
  const { store, logger, now = () => Date.now(), everyMs = usualEveryMs } = options;
  let look: Promise<void> = Promise.resolve();
  let isLooking = false;
  const work = async () => {
    for (let n = 0; n < mostTransactions; n++) {
      const looked = await store.tickAlerts(now(), perTransaction);
      if (looked < perTransaction) return;
    }
  };
  const timer = setInterval(() => {
    if (isLooking) return;
    isLooking = true;
    look = work()
      .catch((error: unknown) => {
        const isPassing = error instanceof OperatingError && error.isRetriable;
        logger[isPassing ? 'warn' : 'error']({ err: error }, 'time did not pass for alerts; trying again');
      })
      .finally(() => {
        isLooking = false;
      });
  }, everyMs);
  timer.unref();
  return {
    async stop() {
      clearInterval(timer);
      await look;
    },
  };
}
