/** Intake from a provider of ISO 15143-3: hours, fuel, DEF level and faults of mixed fleets, asked for again and again. */

import { setTimeout as sleepReally } from 'node:timers/promises';
import { retrying } from '@warmbrick/runtime';
import type { IngestLogger } from '../ingest-types.js';
import type { Intake } from '../intake.js';
import { createFeedClient, type FeedClock } from './feed-client.js';
import { type FeedMemory, type FeedRound, runRound } from './feed-round.js';
import { type FeedProviderInput, feedProviderSchema } from './feed-settings.js';

export interface StandardFeedOptions {
  readonly provider: FeedProviderInput;
  readonly intake: Intake;
  readonly logger: IngestLogger;
  readonly clock?: FeedClock;
  /** From 0 to 1, for waits that differ between processes. */
  readonly random?: () => number;
  /** Called after each round. */
  readonly onRound?: (round: FeedRound) => void;
}

export interface StandardFeedStats {
  readonly rounds: number;
  readonly requestRetries: number;
  readonly storeRetries: number;
  readonly samples: number;
  readonly faultReports: number;
  readonly rejects: number;
  /** Rounds that did not get everything. */
  readonly incompleteRounds: number;
}

export interface StandardFeed {
  stats(): StandardFeedStats;
  /** Ends after what is in work; what is not safe is asked for again after the next start. */
  stop(): Promise<void>;
}

const realClock: FeedClock = {
  now: () => Date.now(),
  sleep: async (ms, signal) => {
    await sleepReally(ms, undefined, { signal }).catch(() => {});
  },
};

/** Part of the time between rounds by which it varies, so that providers are not asked by everybody at once. */
const jitterRatio = 0.1;
/** Waits between tries when the pipeline does not take a page. Source: engineering judgement. */
const storeRetry = { firstMs: 100, longestMs: 10_000 };

/**
 * Asks a provider in rounds until it is stopped.
 *
 * Errors: ZodError for settings that are wrong; whatever goes wrong later is logged and tried again in the next round.
 */
export function pollStandardFeed(options: StandardFeedOptions): StandardFeed {
  const { intake, logger, clock = realClock, random = Math.random, onRound } = options;
  const provider = feedProviderSchema.parse(options.provider);
  const stopping = new AbortController();
  const { signal } = stopping;
  const counts = {
    rounds: 0,
    requestRetries: 0,
    storeRetries: 0,
    samples: 0,
    faultReports: 0,
    rejects: 0,
    incompleteRounds: 0,
  };
  const client = createFeedClient({ provider, clock, random, signal, onRetry: () => void counts.requestRetries++ });
  const memory: FeedMemory = { pages: new Map(), faultsUntilMs: new Map() };
  const untilItWorks = (job: () => Promise<void>) =>
    retrying(job, { ...storeRetry, signal, onRetry: () => void counts.storeRetries++ });

  const poll = async () => {
    const round = await runRound({ provider, client, intake, clock, memory, signal, untilItWorks });
    counts.rounds++;
    counts.samples += round.samples;
    counts.faultReports += round.faultReports;
    counts.rejects += round.rejected;
    if (round.failures.length > 0 && !signal.aborted) {
      counts.incompleteRounds++;
      logger.warn({ provider: provider.name, failures: round.failures }, 'a round of a standard feed is not complete');
    }
    onRound?.(round);
  };
  const run = async () => {
    while (!signal.aborted) {
      try {
        await poll();
      } catch (error) {
        if (!signal.aborted) logger.error({ err: error, provider: provider.name }, 'a round of a standard feed failed');
      }
      await clock.sleep(provider.everyMin * 60_000 * (1 + jitterRatio * (random() - 0.5)), signal);
    }
  };
  const running = run();
  return {
    stats: () => ({ ...counts }),
    async stop() {
      stopping.abort();
      await running;
    },
  };
}
