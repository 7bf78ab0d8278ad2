import { type Signal, useComputed } from '@preact/signals';
import type { MachineItem } from '@warmbrick/contracts';
import { nowMs } from '../api/server-clock.js';
import { Pile } from '../parts/pile.js';
import { setQuery } from '../routing/location.js';
import { type Concern, concerns, concernWords, countConcerns } from './fleet-summary.js';

interface FleetLineProps {
  readonly machines: readonly Signal<MachineItem>[];
  readonly hasMore: boolean;
  readonly only: Concern | null;
}

/** How the fleet stands, in one line; each clause narrows the list to what it counts. */
export function FleetLine({ machines, hasMore, only }: FleetLineProps) {
  // Counting every 10 s is enough for "silent"; the other counts change with the machines.
  const tenth = useComputed(() => Math.floor(nowMs.value / 10_000));
  const counts = countConcerns(
    machines.map((machine) => machine.value),
    tenth.value * 10_000,
  );
  const total = `${machines.length}${hasMore ? ' or more' : ''} machine${machines.length === 1 ? '' : 's'}`;
  return (
    <div class="fleet-line">
      <p class="fleet-total">{total}</p>
      <ul aria-label="Show only">
        {concerns.map((concern) => (
          <li key={concern}>
            <button
              type="button"
              class="clause"
              aria-pressed={only === concern}
              onClick={() => setQuery({ only: only === concern ? null : concern })}
            >
              {concern === 'at-risk' && <Pile filled={3} tone="risk" />}
              {concernWords(concern, counts[concern])}
            </button>
          </li>
        ))}
      </ul>
    </div>
  );
}
