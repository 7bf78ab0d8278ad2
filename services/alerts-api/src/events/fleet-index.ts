/** Which fleet each machine belongs to, remembered for a moment. */

import type { Store } from '@warmbrick/store';

/** A machine that moved is still counted to its old fleet for so long, in ms. */
const rememberedMs = 2000;
/** Machines remembered at most; then everything is asked anew. */
const mostMachines = 100_000;

export interface FleetIndex {
  /** Fleets of the machines; unknown ones are left out. */
  fleetsOf(machineIds: readonly string[]): Promise<ReadonlyMap<string, string>>;
}

/** Makes an empty index over the whole store. `now` is a monotonic clock in milliseconds. */
export function createFleetIndex(store: Store, now: () => number = () => performance.now()): FleetIndex {
  let known = new Map<string, string>();
  let sinceMs = now();
  return {
    async fleetsOf(machineIds) {
      if (now() - sinceMs >= rememberedMs || known.size > mostMachines) {
        known = new Map();
        sinceMs = now();
      }
      const current = known;
      const missing = [...new Set(machineIds)].filter((machineId) => !current.has(machineId));
      if (missing.length > 0) for (const [id, fleet] of await store.fleetsOf(missing)) current.set(id, fleet);
      return current;
    },
  };
}
