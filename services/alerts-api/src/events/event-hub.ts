/** Passes what changed on to everybody who listens, and remembers the last events so that a listener can resume. */

import { randomBytes } from 'node:crypto';
import type { AlertEvent } from '@warmbrick/alerting';
import type { MachineSummary } from '@warmbrick/analysis';
import {
  type AlertMessage,
  type FindingDocument,
  type MachineEvent,
  toAlertMessage,
  toFindingDocument,
  toInstant,
} from '@warmbrick/contracts';
import type { MachineChange } from '@warmbrick/store';

/** Events remembered for resuming. Source: engineering judgement: minutes of a mid-sized fleet, a few MB at most. */
const usualRemembered = 4096;

export interface HubEvent {
  /** `<hub>-<number>`; the hub's name changes at each start, so an id of an earlier process is told apart. */
  readonly id: string;
  readonly name: 'machine' | 'finding' | 'alert';
  /** The machine that it is about: who may not see the machine may not see the event. */
  readonly machineId: string;
  /** JSON, made once for all listeners. */
  readonly data: string;
}

export type HubListener = (event: HubEvent) => void;

export interface EventHub {
  /** Publishes the findings of a committed change, then the machine's new state. */
  publishChange(change: MachineChange): void;
  /** Publishes committed steps of alerts, in their order. */
  publishAlerts(events: readonly AlertEvent[]): void;
  /** Receives every event from now on; returns how to stop. */
  listen(listener: HubListener): () => void;
  /** Whether anybody listens. */
  isHeard(): boolean;
  /** Events after an id, or null when the hub no longer has all of them (or never had). */
  eventsAfter(id: string): HubEvent[] | null;
  /** Grows with each event; what was computed at one version holds while it lasts. */
  version(): number;
  /** The id of the latest event. */
  latestId(): string;
}

/** Makes a hub; `remembered` is how many events a listener can be behind and still resume. */
export function createEventHub(options: { remembered?: number } = {}): EventHub {
  const remembered = options.remembered ?? usualRemembered;
  const name = randomBytes(4).toString('hex');
  const ring: HubEvent[] = [];
  const listeners = new Set<HubListener>();
  let count = 0;

  const publish = (eventName: HubEvent['name'], document: MachineEvent | FindingDocument | AlertMessage) => {
    const { machineId } = document;
    const event = { id: `${name}-${++count}`, name: eventName, machineId, data: JSON.stringify(document) };
    ring[(count - 1) % remembered] = event;
    for (const listener of listeners) listener(event);
  };

  return {
    publishChange(change) {
      for (const finding of change.findings) publish('finding', toFindingDocument(finding));
      // A machine with fault codes and no samples yet has no state to tell of.
      if (change.summary !== null) publish('machine', machineEvent(change.machineId, change.summary));
    },
    publishAlerts(events) {
      for (const event of events) publish('alert', toAlertMessage(event));
    },
    listen(listener) {
      listeners.add(listener);
      return () => void listeners.delete(listener);
    },
    isHeard: () => listeners.size > 0,
    eventsAfter(id) {
      const after = numberOf(id, name);
      if (after === null || after > count || after < count - remembered) return null;
      const events: HubEvent[] = [];
      for (let n = after + 1; n <= count; n++) events.push(ring[(n - 1) % remembered] as HubEvent);
      return events;
    },
    version: () => count,
    latestId: () => `${name}-${count}`,
  };
}

function numberOf(id: string, name: string): number | null {
  const found = /^([0-9a-f]{8})-(\d{1,15})$/.exec(id);
  return found === null || found[1] !== name ? null : Number(found[2]);
}

function machineEvent(machineId: string, summary: MachineSummary): MachineEvent {
  return {
    machineId,
    lastSampleAt: toInstant(summary.observed.toMs),
    mode: summary.mode,
    scoreValue: summary.score?.value ?? null,
  };
}
