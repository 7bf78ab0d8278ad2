/** Lets blocks and fault reports through as long as each machine's time rises, and stops at the first that does not. */

import type { Outlet } from './read-state.js';
import { disorder } from './sample-shelves.js';

/** Guards an outlet. Errors: throws `disorder`. */
export function guardOrder(outlet: Outlet): Outlet {
  const lastSampleMs = new Map<string, number>();
  const lastFaultMs = new Map<string, number>();
  return {
    block(block) {
      const last = lastSampleMs.get(block.machineId);
      if (last !== undefined && (block.timeMs[0] as number) <= last) throw disorder;
      lastSampleMs.set(block.machineId, block.timeMs.at(-1) as number);
      outlet.block(block);
    },
    faults(reports) {
      for (const { machineId, timeMs } of reports) {
        const isLate = timeMs < (lastFaultMs.get(machineId) ?? timeMs) || timeMs <= (lastSampleMs.get(machineId) ?? -1);
        if (isLate) throw disorder;
        lastFaultMs.set(machineId, timeMs);
      }
      outlet.faults(reports);
    },
  };
}
