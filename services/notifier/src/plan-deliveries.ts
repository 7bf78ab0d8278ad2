/** Outbox of alerts -> topic and deliveries, until stopped. */

import { toAlertMessage, topics } from '@warmbrick/contracts';
import type { Producer } from '@warmbrick/kafka';
import { type Logger, OperatingError } from '@warmbrick/runtime';
import type { AlertsOutboxMessage, Store } from '@warmbrick/store';
import { deliveriesOf } from './fan-out.js';
import type { Nudge } from './nudge.js';

export interface PlanLimits {
  /** Messages taken at once. */
  readonly batch: number;
  /** How long they are ours, ms. */
  readonly leaseMs: number;
  /** Between looks while there is nothing, and after a failure, ms. */
  readonly pollMs: number;
  readonly retryMs: number;
}

/** Source: engineering judgement; a nudge comes at once, the look is for what was missed. */
export const usualPlanLimits: PlanLimits = { batch: 500, leaseMs: 30_000, pollMs: 200, retryMs: 2000 };

export interface PlanOptions {
  readonly store: Pick<Store, 'takeOutbox' | 'failOutbox' | 'fanOut' | 'listDestinations' | 'machinePlaces'>;
  /** Where the topic of alerts is; null where no brokers are configured. */
  readonly producer: Pick<Producer, 'send'> | null;
  readonly publicUrl: string;
  readonly owner: string;
  readonly limits: PlanLimits;
  readonly logger: Pick<Logger, 'warn' | 'error'>;
  readonly now: () => number;
  /** Poked when there may be something to plan; pokes nobody by itself. */
  readonly nudge: Nudge;
  readonly onPlanned?: ((count: number) => void) | undefined;
}

/** Header that names a message: the alert's episode and the step's sequence, the same at each delivery. */
const alertIdHeader = 'alert-id';

/** Runs until the signal. An end at any place loses nothing: what was not settled is planned again, with the same ids. */
export async function planUntil(options: PlanOptions, signal: AbortSignal): Promise<void> {
  const { limits, logger, nudge } = options;
  while (!signal.aborted) {
    let restMs = 0;
    try {
      const taken = await planSome(options);
      if (taken < limits.batch) restMs = limits.pollMs;
    } catch (error) {
      const isPassing = error instanceof OperatingError && error.isRetriable;
      logger[isPassing ? 'warn' : 'error']({ err: error }, 'alerts could not be planned; trying again');
      restMs = limits.retryMs;
    }
    if (restMs > 0) await nudge.rest(restMs, signal);
  }
}

async function planSome(options: PlanOptions): Promise<number> {
  const { store, owner, limits, publicUrl, now, onPlanned } = options;
  const { batch: limit, leaseMs } = limits;
  const taken = await store.takeOutbox({ topic: topics.alerts, limit, leaseMs, owner });
  if (taken.length === 0) return 0;
  const published = await publish(options, taken);
  const messages = published.map(({ payload }) => toAlertMessage(payload));
  const places = await store.machinePlaces([...new Set(messages.map(({ machineId }) => machineId))]);
  const destinations = await store.listDestinations();
  const deliveries = deliveriesOf(messages, { destinations, places, publicUrl, nowMs: now() });
  const ids = published.map(({ id }) => id);
  await store.fanOut(ids, deliveries);
  onPlanned?.(deliveries.length);
  return taken.length;
}

/** What the brokers took, in order; what they did not, and later messages of its machine, goes back. */
async function publish(
  { producer, store, now, limits, logger }: PlanOptions,
  taken: readonly AlertsOutboxMessage[],
): Promise<readonly AlertsOutboxMessage[]> {
  if (producer === null) return taken;
  const outcomes = await Promise.allSettled(taken.map((message) => producer.send(outgoing(message))));
  const failedKeys = new Set<string>();
  const sent: AlertsOutboxMessage[] = [];
  const failed: number[] = [];
  for (const [at, message] of taken.entries()) {
    if (outcomes[at]?.status === 'rejected') failedKeys.add(message.key);
    if (failedKeys.has(message.key)) failed.push(message.id);
    else sent.push(message);
  }
  if (failed.length > 0) {
    logger.error({ failed: failed.length }, 'the brokers do not take messages about alerts');
    await store.failOutbox(failed, now() + limits.retryMs);
  }
  return sent;
}

function outgoing({ key, episodeId, revision, payload }: AlertsOutboxMessage) {
  return {
    topic: topics.alerts,
    key,
    value: JSON.stringify(toAlertMessage(payload)),
    headers: { [alertIdHeader]: `${episodeId}.${revision}`, revision: String(revision) },
  };
}
