/** The machines on the fleet page: loaded by pages, kept up to date by the stream. */

import { type Signal, signal } from '@preact/signals';
import type { MachineDetail, MachineEvent, MachineItem, MachineList, Problem } from '@warmbrick/contracts';
import { fetchJson } from '../api/fetch-json.js';
import { onFinding, onMachine } from '../api/live-stream.js';
import { throttle } from '../api/throttle.js';

const pageSize = 100;
/** Machines whose figures moved are asked for one by one, this far apart, and at most so many wait. */
const refreshIntervalMs = 1500;
const mostWaiting = 50;
/** A full list is taken anew this often at most. */
const relistIntervalMs = 60_000;
/** A score that moved by less is not worth a request. */
const leastScoreStep = 0.5;

export interface FleetScope {
  readonly sort: 'risk' | 'name';
  readonly site: string | null;
}

export interface Fleet {
  /** A signal a machine, so that an event redraws one row. */
  readonly machines: Signal<readonly Signal<MachineItem>[]>;
  readonly nextCursor: Signal<string | null>;
  readonly state: Signal<'loading' | 'ready' | 'failed'>;
  readonly problem: Signal<Problem | null>;
  /** Loads the first page of a scope in place of what there is. */
  open(scope: FleetScope): Promise<void>;
  /** Loads the page after the last. */
  more(): Promise<void>;
  stop(): void;
}

/** Makes an empty fleet that listens to the stream until stopped. */
export function createFleet(): Fleet {
  const machines = signal<readonly Signal<MachineItem>[]>([]);
  const nextCursor = signal<string | null>(null);
  const state = signal<'loading' | 'ready' | 'failed'>('loading');
  const problem = signal<Problem | null>(null);
  const moved = new Set<string>();
  let scope: FleetScope = { sort: 'risk', site: null };
  let current = new AbortController();

  const load = async (cursor: string | null) => {
    const { signal: abort } = current;
    state.value = 'loading';
    const answer = await fetchJson<MachineList>(listUrl(scope, cursor), abort);
    if (answer === null || abort.aborted) return;
    problem.value = answer.ok ? null : answer.problem;
    state.value = answer.ok ? 'ready' : 'failed';
    if (!answer.ok) return;
    const known = cursor === null ? [] : machines.value;
    const seen = new Set(known.map((machine) => machine.value.machineId));
    const fresh = answer.body.items.filter((item) => !seen.has(item.machineId));
    machines.value = [...known, ...fresh.map((item) => signal(item))];
    nextCursor.value = answer.body.nextCursor;
  };
  const find = (machineId: string) => machines.value.find((machine) => machine.value.machineId === machineId);

  const refreshNext = throttle(async () => {
    const [machineId] = moved;
    if (machineId === undefined) return;
    moved.delete(machineId);
    const answer = await fetchJson<MachineDetail>(`/v1/machines/${encodeURIComponent(machineId)}`, current.signal);
    const row = find(machineId);
    if (answer?.ok === true && row !== undefined) row.value = answer.body;
    // The interval counts from the end of this run.
    if (moved.size > 0) setTimeout(refreshNext);
  }, refreshIntervalMs);
  const relist = throttle(() => (machines.value.length > pageSize ? undefined : load(null)), relistIntervalMs);
  const noteMoved = (machineId: string) => {
    const isUnknown = find(machineId) === undefined;
    // A machine that is not here may be new, unless it simply lies outside what was asked for.
    if (isUnknown && (scope.site !== null || nextCursor.value !== null)) return;
    if (isUnknown || moved.size >= mostWaiting) return relist();
    moved.add(machineId);
    refreshNext();
  };

  const offMachine = onMachine((event) => {
    const row = find(event.machineId);
    if (row === undefined) return;
    const before = row.value;
    row.value = withEvent(before, event);
    if (Math.abs((event.scoreValue ?? 0) - (before.score?.value ?? 0)) >= leastScoreStep) noteMoved(event.machineId);
  });
  const offFinding = onFinding((finding) => noteMoved(finding.machineId));

  return {
    machines,
    nextCursor,
    state,
    problem,
    open: (next) => {
      current.abort();
      current = new AbortController();
      scope = next;
      return load(null);
    },
    more: () => (nextCursor.value === null || state.value === 'loading' ? Promise.resolve() : load(nextCursor.value)),
    stop: () => {
      current.abort();
      offMachine();
      offFinding();
      refreshNext.cancel();
      relist.cancel();
    },
  };
}

/** What an event changes at once; figures that it does not carry stay until the machine is asked for again. */
export function withEvent(machine: MachineItem, event: MachineEvent): MachineItem {
  if (Date.parse(event.lastSampleAt) < Date.parse(machine.lastSampleAt)) return machine;
  return { ...machine, lastSampleAt: event.lastSampleAt, mode: event.mode };
}

function listUrl(scope: FleetScope, cursor: string | null): string {
  const query = new URLSearchParams({ limit: String(pageSize), sort: scope.sort });
  if (scope.site !== null) query.set('site', scope.site);
  if (cursor !== null) query.set('cursor', cursor);
  return `/v1/machines?${query}`;
}
