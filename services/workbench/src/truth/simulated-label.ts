/** From a line of simulated truth to a label: in the words of findings where there is a finding for it. */

import type { TruthLabel } from '@warmbrick/tuning';

/** A line of `warmbrick simulate --truth`. */
export interface SimulatedTruth {
  readonly machineId: string;
  readonly kind: string;
  readonly startedAt: string;
  readonly endedAt: string | null;
  readonly [said: string]: unknown;
}

/** Truth by other names than those of the findings. */
const kinds: Readonly<Record<string, string>> = {
  stop: 'hot-shutdown',
  gap: 'data-gap',
  'nox-loss': 'nox-conversion',
  'sensor-fault': 'sensor-suspect',
};

/**
 * The label of one event; null for what is nothing to be told of, such as a stop after a good cool-down.
 *
 * What is too short to matter is a label that is not required: idle under the simulator’s own limit.
 */
export function simulatedLabel(event: SimulatedTruth): TruthLabel | null {
  if (event.kind === 'stop' && event.grade === 'cool') return null;
  const startedMs = Date.parse(event.startedAt);
  const endedMs = event.endedAt === null ? null : Date.parse(event.endedAt);
  return {
    machineId: event.machineId,
    kind: kinds[event.kind] ?? event.kind,
    startedMs,
    endedMs,
    isRequired: event.kind !== 'idle-streak' || event.isOverLimit === true,
  };
}
