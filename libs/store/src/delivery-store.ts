/** Who is told of alerts, and what became of each message: destinations, deliveries and their log. */

import type { Severity } from '@warmbrick/analysis';
import type { Page } from './store.js';

/** Kinds of destination. */
export const destinationKinds = ['webhook', 'mail', 'mqtt'] as const;
export type DestinationKind = (typeof destinationKinds)[number];

export interface Destination {
  readonly id: string;
  /** It hears of this fleet's machines only. */
  readonly fleetId: string;
  readonly name: string;
  readonly kind: DestinationKind;
  /** URL of a webhook, mail addresses with commas between, or an MQTT topic. */
  readonly address: string;
  /** Secrets that sign, newest first; two while a receiver changes over. Never shown again by the API. */
  readonly secrets: readonly string[];
  readonly leastSeverity: Severity;
  /** Only these; empty means all. */
  readonly sites: readonly string[];
  readonly machineIds: readonly string[];
  readonly rules: readonly string[];
  /** What is less than severe waits while it is quiet. */
  readonly quiet: { readonly timeZone: string; readonly from: string; readonly to: string } | null;
  /** Mail only: one mail for what came in so many minutes; null sends each by itself. */
  readonly digestMinutes: number | null;
  /** Whether it also hears of alerts about the past. */
  readonly includesPast: boolean;
  readonly isEnabled: boolean;
}

/** A message for one destination, rendered once; every try sends the same bytes. */
export interface NewDelivery {
  /** Stays the same over tries and crashes; the receiver tells repeats by it. */
  readonly id: string;
  readonly destinationId: string;
  readonly machineId: string;
  /** Deliveries of one thread go out in order. */
  readonly threadId: string;
  readonly subject: string;
  readonly body: string;
  /** Plain words of the same. */
  readonly text: string;
  /** Not before, by the wall clock in epoch ms. */
  readonly availableMs: number;
  /** Leave it out unless the destination has heard of the thread before. */
  readonly onlyIfHeard: boolean;
}

export type DeliveryState = 'waiting' | 'sent' | 'dead';

export interface Delivery extends Omit<NewDelivery, 'onlyIfHeard'> {
  readonly state: DeliveryState;
  readonly createdMs: number;
  readonly firstTriedMs: number | null;
  readonly sentMs: number | null;
  /** Tries, the one under way included. */
  readonly attempts: number;
}

export interface DeliveryAttempt {
  readonly atMs: number;
  readonly result: 'taken' | 'refused' | 'failed';
  readonly status: string;
  readonly detail: string;
  readonly tookMs: number;
}

export interface DeliveryLease {
  readonly limit: number;
  /** At most so many of one destination, so that one that is slow does not take the place of others. */
  readonly perDestination: number;
  /**
   * `one-by-one`: of all destinations but these, and of each thread only the first that waits; `together`: of these destinations
   * only, whole threads at once, for digests.
   */
  readonly mode: 'one-by-one' | 'together';
  readonly destinationIds: readonly string[];
  readonly leaseMs: number;
  /** Name of the process, for whoever looks into the table. */
  readonly owner: string;
}

export interface AttemptRecord {
  readonly deliveryId: string;
  readonly attempt: DeliveryAttempt;
  readonly state: DeliveryState;
  /** Time of the next try while it waits. */
  readonly availableMs: number;
}

export interface DeliveryPage {
  readonly limit: number;
  readonly cursor?: string | undefined;
  readonly destinationId?: string | undefined;
  readonly machineId?: string | undefined;
  readonly state?: DeliveryState | undefined;
}

/** Where a machine belongs, for choosing who hears of it. */
export interface MachinePlace {
  readonly name: string;
  readonly fleetId: string;
  readonly site: string | null;
}

export interface DeliveryStore {
  listDestinations(): Promise<Destination[]>;
  /** Makes or replaces a destination. */
  putDestination(destination: Destination): Promise<void>;
  /** What still waits for it goes with it. Returns whether there was one. */
  deleteDestination(id: string): Promise<boolean>;
  /** Places of the machines that are known. */
  machinePlaces(machineIds: readonly string[]): Promise<Map<string, MachinePlace>>;
  /**
   * Settles outbox messages and writes the deliveries that they lead to, in one transaction. A delivery whose id is there
   * already, or whose destination is gone, is left out.
   */
  fanOut(outboxIds: readonly number[], deliveries: readonly NewDelivery[]): Promise<void>;
  /**
   * Takes deliveries that are due, and nobody else gets them for `leaseMs`. One by one, later ones of a thread wait for earlier ones
   * of the same destination.
   */
  takeDeliveries(lease: DeliveryLease): Promise<Delivery[]>;
  /** Writes how tries ended. A delivery that was settled meanwhile keeps its state; the log has the try all the same. */
  recordAttempts(records: readonly AttemptRecord[]): Promise<void>;
  /** Newest first. */
  listDeliveries(page: DeliveryPage): Promise<Page<Delivery>>;
  /** The log of one delivery, oldest first; null for an unknown one. */
  deliveryAttempts(id: string): Promise<DeliveryAttempt[] | null>;
  /** Sends a delivery once more, with the same id and bytes. Returns whether there is one. */
  resendDelivery(id: string, nowMs: number): Promise<boolean>;
  /** Deletes settled deliveries made before a time, at most `limit`; returns how many. */
  retireDeliveries(beforeMs: number, limit: number): Promise<number>;
}
