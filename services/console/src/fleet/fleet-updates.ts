/** Keeps loaded machines up to date by the stream, with few requests however many events come. */

import type { Signal } from '@preact/signals';
import type { MachineEvent, MachineItem } from '@warmbrick/contracts';
import { api } from '../api/client.js';
import { onFinding, onMachine, onResync } from '../api/live-stream.js';
import { throttle } from '../api/throttle.js';

/** Machines whose figures moved are asked for one by one, this far apart, and at most so many wait. */
const refreshIntervalMs = 1500;
const mostWaiting = 50;
/** A full list is taken anew this often at most. */
const relistIntervalMs = 60_000;
/** A score that moved by less is not worth a request. */
const leastScoreStep = 0.5;

export interface UpdatedFleet {
  find(machineId: string): Signal<MachineItem> | undefined;
  /** Whether every machine there is has been loaded, so that one that is not here must be new. */
  isWhole(): boolean;
  /** Loads the first page anew. */
  relist(): Promise<void> | undefined;
}

/** Applies events to the machines of a fleet until the returned function is called. */
export function followFleet(fleet: UpdatedFleet): () => void {
  const moved = new Set<string>();
  const stopped = new AbortController();
  const refreshNext = throttle(async () => {
    const [machineId] = moved;
    if (machineId === undefined) return;
    moved.delete(machineId);
    const answer = await api.getMachine({ path: { machineId }, signal: stopped.signal });
    const row = fleet.find(machineId);
    if (answer?.ok === true && row !== undefined) row.value = answer.body;
    // After this run has ended, since a throttled action does not start itself.
    if (moved.size > 0) setTimeout(refreshNext);
  }, refreshIntervalMs);
  const relist = throttle(() => fleet.relist(), relistIntervalMs);
  const noteMoved = (machineId: string) => {
    const isUnknown = fleet.find(machineId) === undefined;
    if (isUnknown && !fleet.isWhole()) return;
    if (isUnknown || moved.size >= mostWaiting) return relist();
    moved.add(machineId);
    refreshNext();
  };
  const stops = [
    onMachine((event) => {
      const row = fleet.find(event.machineId);
      if (row === undefined) return noteMoved(event.machineId);
      const before = row.value;
      row.value = withEvent(before, event);
      if (Math.abs((event.scoreValue ?? 0) - (before.score?.value ?? 0)) >= leastScoreStep) noteMoved(event.machineId);
    }),
    onFinding((finding) => noteMoved(finding.machineId)),
    onResync(relist),
    refreshNext.cancel,
    relist.cancel,
    () => stopped.abort(),
  ];
  return () => {
    for (const stop of stops) stop();
  };
}

/** What an event changes at once; figures that it does not carry stay until the machine is asked for again. */
function withEvent(machine: MachineItem, event: MachineEvent): MachineItem {
  if (Date.parse(event.lastSampleAt) < Date.parse(machine.lastSampleAt)) return machine;
  return { ...machine, lastSampleAt: event.lastSampleAt, mode: event.mode };
}
