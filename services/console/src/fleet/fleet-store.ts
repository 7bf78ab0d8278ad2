/** The machines on the fleet page: loaded by pages, kept up to date by the stream. */

import { type Signal, signal } from '@preact/signals';
import type { MachineItem, Problem } from '@warmbrick/contracts';
import { api } from '../api/client.js';
import { followFleet } from './fleet-updates.js';

const pageSize = 100;

export interface FleetScope {
  readonly sort: 'risk' | 'name';
  readonly site: string | null;
  readonly fleet: string | null;
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
  let scope: FleetScope = { sort: 'risk', site: null, fleet: null };
  let current = new AbortController();

  const load = async (cursor: string | null) => {
    const { signal: abort } = current;
    state.value = 'loading';
    const answer = await api.getMachines({ query: listQuery(scope, cursor), signal: abort });
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
  const unfollow = followFleet({
    find: (machineId) => machines.value.find((machine) => machine.value.machineId === machineId),
    isWhole: () => scope.site === null && scope.fleet === null && nextCursor.value === null,
    // A reader who has asked for further pages keeps them.
    relist: () => (machines.value.length > pageSize ? undefined : load(null)),
  });
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
      unfollow();
    },
  };
}

function listQuery({ sort, site, fleet }: FleetScope, cursor: string | null) {
  const only = { ...(site === null ? {} : { site }), ...(fleet === null ? {} : { fleet }) };
  return { limit: pageSize, sort, ...only, ...(cursor === null ? {} : { cursor }) };
}
