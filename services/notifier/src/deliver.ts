/** The loop that takes what is due and sends it, a bounded number at a time. */

import { type Logger, OperatingError } from '@warmbrick/runtime';
import type { AttemptRecord, Delivery, Destination, Store } from '@warmbrick/store';
import type { Nudge } from './nudge.js';
import { nextTryMs, type RetrySchedule } from './retry-schedule.js';
import { type Channels, sendDeliveries } from './send-delivery.js';
import type { CallOutcome } from './webhook/post-webhook.js';

export interface DeliverLimits {
  /** Sendings under way at once, and of one destination. */
  readonly atOnce: number;
  readonly perDestination: number;
  /** Messages of one digest at most. */
  readonly digestMost: number;
  /** How long a delivery is ours, ms; well above the longest sending. */
  readonly leaseMs: number;
  /** Between looks while nothing is due, ms. */
  readonly pollMs: number;
}

/** Source: engineering judgement. */
export const usualDeliverLimits: DeliverLimits = {
  atOnce: 32,
  perDestination: 4,
  digestMost: 200,
  leaseMs: 90_000,
  pollMs: 250,
};

export interface DeliverOptions {
  readonly store: Pick<Store, 'listDestinations' | 'takeDeliveries' | 'recordAttempts'>;
  readonly channels: Channels;
  readonly schedule: RetrySchedule;
  readonly limits: DeliverLimits;
  readonly owner: string;
  readonly logger: Pick<Logger, 'warn' | 'error'>;
  readonly now: () => number;
  /** Poked when there may be something to send. */
  readonly nudge: Nudge;
  /** 0..1, for the jitter. */
  readonly random: () => number;
  readonly onOutcome?: ((kind: Destination['kind'], result: CallOutcome['result']) => void) | undefined;
}

interface Work extends DeliverOptions {
  /** Sendings under way of each destination. */
  readonly underWay: Map<string, number>;
  readonly running: Set<Promise<void>>;
}

/** Runs until the signal, and ends when what is under way has ended. */
export async function deliverUntil(options: DeliverOptions, signal: AbortSignal): Promise<void> {
  const work: Work = { ...options, underWay: new Map(), running: new Set() };
  const { limits, logger } = options;
  while (!signal.aborted) {
    let started = 0;
    try {
      started = await startSome(work);
    } catch (error) {
      // What is leased comes again when the lease is over.
      const isPassing = error instanceof OperatingError && error.isRetriable;
      logger[isPassing ? 'warn' : 'error']({ err: error }, 'deliveries could not be taken; trying again');
    }
    if (started === 0 || work.running.size >= limits.atOnce) {
      const rest = options.nudge.rest(limits.pollMs, signal);
      await (work.running.size >= limits.atOnce ? Promise.race([rest, ...work.running]) : rest);
    }
  }
  await Promise.all(work.running);
}

async function startSome(work: Work): Promise<number> {
  const { store, limits, owner, underWay } = work;
  const room = limits.atOnce - work.running.size;
  if (room <= 0) return 0;
  const destinations = new Map((await store.listDestinations()).map((it) => [it.id, it]));
  const digests = [...destinations.values()].filter(isDigest).map(({ id }) => id);
  const busy = [...underWay].filter(([, count]) => count >= limits.perDestination).map(([id]) => id);
  const { leaseMs, perDestination, digestMost } = limits;
  const single = await store.takeDeliveries({
    mode: 'one-by-one',
    destinationIds: [...busy, ...digests],
    ...{ limit: room, perDestination, leaseMs, owner },
  });
  const idle = digests.filter((id) => !underWay.has(id)).slice(0, Math.max(1, room - single.length));
  const together =
    idle.length === 0
      ? []
      : await store.takeDeliveries({
          mode: 'together',
          destinationIds: idle,
          ...{ limit: digestMost * idle.length, perDestination: digestMost, leaseMs, owner },
        });
  for (const group of groups([...single, ...together], new Set(digests))) {
    const destination = destinations.get(group[0].destinationId);
    // Deleted meanwhile, and its deliveries with it.
    if (destination === undefined) continue;
    const job: Promise<void> = sendGroup(work, group, destination).finally(() => work.running.delete(job));
    work.running.add(job);
  }
  return single.length + together.length;
}

function isDigest({ kind, digestMinutes }: Destination): boolean {
  return kind === 'mail' && digestMinutes !== null;
}

/** Mails of one digest together, all else one by one. */
function groups(taken: readonly Delivery[], digests: ReadonlySet<string>) {
  const together = new Map<string, [Delivery, ...Delivery[]]>();
  for (const delivery of taken) {
    const { id, destinationId } = delivery;
    const key = digests.has(destinationId) ? `destination ${destinationId}` : `delivery ${id}`;
    const group = together.get(key);
    if (group === undefined) together.set(key, [delivery]);
    else group.push(delivery);
  }
  return together.values();
}

async function sendGroup(
  work: Work,
  group: readonly [Delivery, ...Delivery[]],
  destination: Destination,
): Promise<void> {
  const { underWay, now, channels, store, logger } = work;
  const count = (change: number) => {
    const next = (underWay.get(destination.id) ?? 0) + change;
    if (next > 0) underWay.set(destination.id, next);
    else underWay.delete(destination.id);
  };
  count(1);
  try {
    const atMs = now();
    const outcome = await sendDeliveries(group, destination, { channels, nowMs: atMs });
    work.onOutcome?.(destination.kind, outcome.result);
    await store.recordAttempts(group.map((delivery) => recordOf(work, { delivery, outcome, atMs })));
  } catch (error) {
    // Sent or not, it comes again when the lease is over, with the same id.
    logger.warn({ err: error, destination: destination.id }, 'the outcome of a delivery could not be written');
  } finally {
    count(-1);
  }
}

function recordOf(
  { now, schedule, random }: Work,
  tried: { delivery: Delivery; outcome: CallOutcome; atMs: number },
): AttemptRecord {
  const { delivery, outcome, atMs } = tried;
  const nowMs = now();
  const { result, status, detail, retryAfterMs } = outcome;
  const attempt = { atMs, result, status, detail, tookMs: nowMs - atMs };
  const firstTriedMs = delivery.firstTriedMs ?? atMs;
  const againMs =
    result === 'failed'
      ? nextTryMs({ attempts: delivery.attempts, firstTriedMs, nowMs, retryAfterMs }, schedule, random())
      : null;
  const state = result === 'taken' ? 'sent' : againMs === null ? 'dead' : 'waiting';
  return { deliveryId: delivery.id, attempt, state, availableMs: againMs ?? nowMs };
}
