/** The timelines of the machines in work, loaded from the store when needed and dropped when they may be wrong. */

import { createTimeline, type ThresholdSet, type Timeline, type TimelinePorts } from '@warmbrick/analysis';
import { defaultProfile } from '@warmbrick/signals';
import type { Store } from '@warmbrick/store';

export interface MachineTimelines {
  /** The machine's timeline as of its last commit. */
  get(machineId: string): Promise<Timeline>;
  /** Forgets timelines: what they hold beyond the last commit is void. */
  drop(machineIds: Iterable<string>): void;
}

/** Makes an empty set that holds at most `most` machines in memory, those used last. */
export function createMachineTimelines(options: {
  readonly store: Store;
  readonly thresholds: ThresholdSet;
  readonly most: number;
}): MachineTimelines {
  const { store, thresholds, most } = options;
  const held = new Map<string, Timeline>();
  return {
    async get(machineId) {
      const timeline = held.get(machineId) ?? (await loadTimeline(store, thresholds, machineId));
      held.delete(machineId);
      held.set(machineId, timeline);
      if (held.size > most) held.delete(held.keys().next().value as string);
      return timeline;
    },
    drop(machineIds) {
      for (const machineId of machineIds) held.delete(machineId);
    },
  };
}

async function loadTimeline(store: Store, thresholds: ThresholdSet, machineId: string): Promise<Timeline> {
  const [profile, snapshot] = await Promise.all([store.loadProfile(machineId), store.loadSnapshot(machineId)]);
  return createTimeline({
    machineId,
    profile: profile ?? defaultProfile,
    thresholds,
    ports: portsOf(store, machineId),
    ...(snapshot === null ? {} : { snapshot }),
  });
}

/** Sample times are whole milliseconds, so one more turns an open end into a closed one. */
function portsOf(store: Store, machineId: string): TimelinePorts {
  return {
    readArchive: (fromMs, toMs) => store.readSamples({ machineId, fromMs: fromMs + 1, toMs: toMs + 1 }),
    snapshotBefore: (timeMs) => store.loadSnapshotBefore(machineId, timeMs - 1),
    findingIdsSince: (atMs) => store.findingIdsSince(machineId, atMs),
  };
}
