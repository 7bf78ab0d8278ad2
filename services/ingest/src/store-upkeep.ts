/** Housekeeping of the store: small chunks put together hourly, what has outlived its retention deleted daily. */

import type { Retention, Store } from '@warmbrick/store';
import type { IngestLogger } from './ingest-types.js';

export interface UpkeepOptions {
  readonly store: Pick<Store, 'compact' | 'retain'>;
  readonly logger: IngestLogger;
  readonly retention?: Retention;
  /** The wall clock in UTC epoch ms. */
  readonly now?: () => number;
  /** Between rounds; default an hour. */
  readonly everyMs?: number;
}

export interface StoreUpkeep {
  /** Resolves when a round under way has ended. */
  stop(): Promise<void>;
}

const dayMs = 86_400_000;

/**
 * What is kept for how long, unless somebody decides otherwise: samples, rows, snapshots and faults for ever, since recordings
 * may be old; messages and rejects for as long as somebody may ask. Source: engineering judgement.
 */
export const usualRetention: Retention = {
  samplesMs: null,
  rowsMs: null,
  snapshotsMs: null,
  faultsMs: null,
  sentOutboxMs: 7 * dayMs,
  unsentOutboxMs: 90 * dayMs,
  rejectsMs: 90 * dayMs,
  alertsMs: 730 * dayMs,
};

const hourMs = 3_600_000;
/** Machines whose chunks are put together in one round at most. Source: engineering judgement. */
const machinesPerRound = 2000;

/** Starts the rounds. A round that fails is logged, and the next one tries again. */
export function startStoreUpkeep(options: UpkeepOptions): StoreUpkeep {
  const { store, logger, retention = usualRetention, now = () => Date.now(), everyMs = hourMs } = options;
  let round: Promise<void> = Promise.resolve();
  let retiredMs = now();
  const work = async () => {
    const atMs = now();
    await store.compact(atMs - hourMs, machinesPerRound);
    if (atMs - retiredMs < dayMs) return;
    const retired = await store.retain(retention, atMs);
    retiredMs = atMs;
    if (retired.unsentOutbox > 0) logger.warn({ retired }, 'findings were never told to anybody');
  };
  const timer = setInterval(() => {
    round = round.then(work).catch((error: unknown) => logger.warn({ err: error }, 'upkeep of the store failed'));
  }, everyMs);
  timer.unref();
  return {
    async stop() {
      clearInterval(timer);
      await round;
    },
  };
}
