/** Lets only the events of some fleets' machines through, in their order. */

import type { HubEvent, HubListener } from './event-hub.js';
import type { FleetIndex } from './fleet-index.js';

/** Events that may wait for their fleets to be known. Source: engineering judgement: as many as the hub remembers. */
const mostWaiting = 8192;

export interface FleetCut {
  readonly fleets: readonly string[];
  readonly index: FleetIndex;
  readonly deliver: HubListener;
  /** Called when events were lost: too many waited, or their fleets could not be looked up. */
  readonly onLost: () => void;
}

/** The listener that cuts. */
export function cutToFleets({ fleets, index, deliver, onLost }: FleetCut): HubListener {
  let waiting: HubEvent[] = [];
  let isAtWork = false;
  const work = async () => {
    while (waiting.length > 0) {
      const batch = waiting;
      waiting = [];
      try {
        const fleetOf = await index.fleetsOf(batch.map(({ machineId }) => machineId));
        for (const event of batch) if (fleets.includes(fleetOf.get(event.machineId) ?? '')) deliver(event);
      } catch {
        onLost();
      }
    }
    isAtWork = false;
  };
  return (event) => {
    if (waiting.length >= mostWaiting) {
      waiting = [];
      onLost();
    }
    waiting.push(event);
    if (isAtWork) return;
    isAtWork = true;
    void work();
  };
}
