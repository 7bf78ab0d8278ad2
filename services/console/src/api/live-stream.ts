/** Server-sent events of the fleet: one connection for the whole page. */

import { signal } from '@preact/signals';
import type { AlertMessage, FindingDocument, MachineEvent } from '@warmbrick/contracts';

export const streamState = signal<'connecting' | 'open' | 'lost'>('connecting');

/** Waits before a new try once the browser has given up: doubling, with a bound and a random part. */
const firstWaitMs = 2000;
const longestWaitMs = 60_000;

type Listener<T> = (event: T) => void;
const machineListeners = new Set<Listener<MachineEvent>>();
const findingListeners = new Set<Listener<FindingDocument>>();
const alertListeners = new Set<Listener<AlertMessage>>();
const resyncListeners = new Set<Listener<unknown>>();

/** Hears of every change of a machine until the returned function is called. */
export function onMachine(listener: Listener<MachineEvent>): () => void {
  machineListeners.add(listener);
  return () => machineListeners.delete(listener);
}

/** Hears of every finding that is new or has changed until the returned function is called. */
export function onFinding(listener: Listener<FindingDocument>): () => void {
  findingListeners.add(listener);
  return () => findingListeners.delete(listener);
}

/** Hears of every step of every alert until the returned function is called. */
export function onAlert(listener: Listener<AlertMessage>): () => void {
  alertListeners.add(listener);
  return () => alertListeners.delete(listener);
}

/** Hears that events were missed for good, so that everything has to be read again, until the returned function is called. */
export function onResync(listener: () => void): () => void {
  resyncListeners.add(listener);
  return () => resyncListeners.delete(listener);
}

/** Opens the stream and keeps it open; call once. */
export function startStream(url = '/v1/stream'): void {
  let waitMs = firstWaitMs;
  const open = () => {
    const source = new EventSource(url);
    source.addEventListener('open', () => {
      waitMs = firstWaitMs;
      streamState.value = 'open';
    });
    source.addEventListener('machine', (event) => pass(event.data, machineListeners));
    source.addEventListener('finding', (event) => pass(event.data, findingListeners));
    source.addEventListener('alert', (event) => pass(event.data, alertListeners));
    source.addEventListener('resync', (event) => pass(event.data, resyncListeners));
    source.addEventListener('error', () => {
      streamState.value = 'lost';
      // The browser tries again by itself unless the server refused.
      if (source.readyState !== EventSource.CLOSED) return;
      setTimeout(open, waitMs * (0.75 + Math.random() / 2));
      waitMs = Math.min(waitMs * 2, longestWaitMs);
    });
  };
  open();
}

/** An event that cannot be read is skipped; the next list brings what it would have said. */
function pass<T>(text: string, listeners: ReadonlySet<Listener<T>>): void {
  let event: T;
  try {
    event = JSON.parse(text) as T;
  } catch {
    return;
  }
  for (const listener of listeners) listener(event);
}
