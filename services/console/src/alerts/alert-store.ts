/** Alerts that a part of the page shows: loaded once, kept up to date by the stream. */

import { type Signal, signal } from '@preact/signals';
import type { AlertDocument, Problem } from '@warmbrick/contracts';
import { api } from '../api/client.js';
import { onAlert, onResync } from '../api/live-stream.js';
import { nowMs } from '../api/server-clock.js';
import { throttle } from '../api/throttle.js';
import { withMessage } from './alert-groups.js';

/** How far back alerts that are over are shown. Source: engineering judgement. */
export const overDays = 7;
const dayMs = 86_400_000;
const mostOpen = 500;
const mostOver = 200;
/** Lists are taken anew this often at most, ms. */
const reloadIntervalMs = 15_000;

export interface AlertBoard {
  readonly alerts: Signal<ReadonlyMap<string, AlertDocument>>;
  readonly state: Signal<'loading' | 'ready' | 'failed'>;
  readonly problem: Signal<Problem | null>;
  /** Whether there are more than were loaded. */
  readonly hasMore: Signal<boolean>;
  /** When the alerts were read last, by the server's clock. */
  readonly readMs: Signal<number | null>;
  load(): Promise<void>;
  /** Puts an answer of an action in place at once. */
  put(alert: AlertDocument): void;
  stop(): void;
}

const nothing = { ok: true, body: { items: [], nextCursor: null } } as const;

export interface BoardScope {
  /** Only alerts of this machine. Missing: of all. */
  readonly machineId?: string;
  /** Only alerts of this fleet. Missing: of all. */
  readonly fleet?: string;
  /** Whether those that are over are shown too, as far back as `overDays`. */
  readonly hasOver: boolean;
}

/** Makes an empty board that listens to the stream until stopped. */
export function createAlertBoard({ machineId, fleet, hasOver }: BoardScope): AlertBoard {
  const alerts = signal<ReadonlyMap<string, AlertDocument>>(new Map());
  const state = signal<'loading' | 'ready' | 'failed'>('loading');
  const problem = signal<Problem | null>(null);
  const hasMore = signal(false);
  const readMs = signal<number | null>(null);
  const abort = new AbortController();

  const only = { ...(machineId === undefined ? {} : { machineId }), ...(fleet === undefined ? {} : { fleet }) };

  const load = async () => {
    const from = new Date(nowMs.peek() - overDays * dayMs).toISOString();
    const ask = (query: { condition: string; limit: number; from?: string }) =>
      api.getAlerts({ query: { ...query, ...only }, signal: abort.signal });
    const [open, over] = await Promise.all([
      ask({ condition: 'active,releasing,unknown', limit: mostOpen }),
      hasOver ? ask({ condition: 'clear', from, limit: mostOver }) : nothing,
    ]);
    if (open === null || over === null) return;
    const failed = !open.ok ? open : !over.ok ? over : null;
    problem.value = failed?.problem ?? null;
    state.value = failed === null ? 'ready' : 'failed';
    if (!open.ok || !over.ok) return;
    const read = new Map([...open.body.items, ...over.body.items].map((alert) => [alert.episodeId, alert]));
    // A message may have overtaken the answer.
    for (const alert of alerts.value.values()) {
      const found = read.get(alert.episodeId);
      if (found !== undefined && found.sequence < alert.sequence) read.set(alert.episodeId, alert);
    }
    alerts.value = read;
    hasMore.value = open.body.nextCursor !== null || over.body.nextCursor !== null;
    readMs.value = nowMs.peek();
  };
  const reload = throttle(load, reloadIntervalMs);
  const put = (alert: AlertDocument) => {
    alerts.value = new Map(alerts.value).set(alert.episodeId, alert);
  };
  const stops = [
    onAlert((message) => {
      if (machineId !== undefined && message.machineId !== machineId) return;
      const known = alerts.value.get(message.episodeId);
      // A message does not say of which fleet its machine is.
      if (known === undefined && fleet !== undefined) return reload();
      put(withMessage(known, message));
    }),
    onResync(reload),
    reload.cancel,
    () => abort.abort(),
  ];
  return {
    ...{ alerts, state, problem, hasMore, readMs, load, put },
    stop: () => {
      for (const stop of stops) stop();
    },
  };
}
