/** Messages that commits leave behind to be sent on. */

import type { AlertEvent } from '@warmbrick/alerting';
import type { Finding } from '@warmbrick/analysis';

/** What happened to a finding. Times are epoch milliseconds. */
export type FindingNews =
  | { readonly type: 'made'; readonly machineId: string; readonly finding: Finding }
  | { readonly type: 'withdrawn'; readonly machineId: string; readonly findingId: string };

interface Waiting {
  readonly id: number;
  /** The machine's id. Messages of a key and topic are given out in the order in which they were written. */
  readonly key: string;
  /** With what the message is about, its identity: the same at each delivery. */
  readonly revision: number;
  /** When it was written, by the database's clock. */
  readonly atMs: number;
  /** Deliveries tried, this one included. */
  readonly attempts: number;
}

/** Written by the commit that made or unmade a finding; the revision rises with each change of it. */
export interface FindingsOutboxMessage extends Waiting {
  readonly topic: 'aftertreatment.findings.v1';
  readonly findingId: string;
  readonly payload: FindingNews;
}

/** Written with each step of an alert's life; the revision is the step's sequence. */
export interface AlertsOutboxMessage extends Waiting {
  readonly topic: 'aftertreatment.alerts.v1';
  readonly episodeId: string;
  readonly payload: AlertEvent;
}

export type FindingsTopic = FindingsOutboxMessage['topic'];
export type OutboxTopic = FindingsTopic | AlertsOutboxMessage['topic'];
export type OutboxMessageOf<T extends OutboxTopic> = Extract<FindingsOutboxMessage | AlertsOutboxMessage, { topic: T }>;
/** A message about a finding. */
export type OutboxMessage = FindingsOutboxMessage;

export interface OutboxLease<T extends OutboxTopic = FindingsTopic> {
  /** Default: findings. */
  readonly topic?: T | undefined;
  /** Messages at most. */
  readonly limit: number;
  /** How long nobody else gets them or later ones of their keys. Settle or fail them before it ends. */
  readonly leaseMs: number;
  /** Name of the process, kept for whoever looks into the table. */
  readonly owner: string;
}
