/**
 * What is held of the machines in work, loaded from the store when needed and dropped when it may be wrong.
 *
 * A step that carries something from one batch of samples to the next (see `machine-batch.ts`) adds a field to `MachineState` and loads it in
 * `loadMachine`; what it holds afterwards must be in the change, so that the next owner loads the same.
 */

import { createTimeline, type ThresholdSet, type Timeline, type TimelinePorts } from '@warmbrick/analysis';
import { defaultProfile } from '@warmbrick/signals';
import type { CursorMove, Store } from '@warmbrick/store';
import type { IngestLogger } from './ingest-types.js';
import { rebuildMachine } from './rebuild-machine.js';
import { setBookOf } from './set-book.js';

/** All that is held of one machine, as of its last commit. */
export interface MachineState {
  readonly machineId: string;
  readonly timeline: Timeline;
  /** Last promotion of a threshold set that it knows of. */
  readonly promotion: number;
}

export interface MachineStates {
  /** The machine's state as of its last commit. */
  get(machineId: string): Promise<MachineState>;
  /** Forgets states: what they hold beyond the last commit is void. */
  drop(machineIds: Iterable<string>): void;
}

export interface LoadOptions {
  readonly store: Store;
  readonly thresholds: ThresholdSet;
  readonly logger: IngestLogger;
}

interface StatesOptions extends LoadOptions {
  readonly most: number;
}

/** Makes an empty set that holds at most `most` machines in memory, those used last. */
export function createMachineStates(options: StatesOptions): MachineStates {
  const { most } = options;
  const held = new Map<string, MachineState>();
  return {
    async get(machineId) {
      const known = held.get(machineId);
      const isCurrent = known?.promotion === (await setBookOf(options.store).lastPromotion());
      const state = known !== undefined && isCurrent ? known : await loadMachine(options, machineId);
      held.delete(machineId);
      held.set(machineId, state);
      if (held.size > most) held.delete(held.keys().next().value as string);
      return state;
    },
    drop(machineIds) {
      for (const machineId of machineIds) held.delete(machineId);
    },
  };
}

/**
 * Makes a machine's state from what is stored, for both ways in; one that another version stored is analysed anew from the archive and
 * committed, under the fence if there is one.
 *
 * Missing: a machine without a profile gets the default one; one without samples starts from nothing.
 * Errors: those of the store.
 */
export async function loadMachine(
  options: LoadOptions,
  machineId: string,
  fence: CursorMove | null = null,
): Promise<MachineState> {
  const promotion = await setBookOf(options.store).lastPromotion();
  return { machineId, timeline: await loadTimeline(options, machineId, fence), promotion };
}

async function loadTimeline(options: LoadOptions, machineId: string, fence: CursorMove | null): Promise<Timeline> {
  const { store, thresholds, logger } = options;
  const [profile, snapshot] = await Promise.all([store.loadProfile(machineId), store.loadSnapshot(machineId)]);
  const usual = profile ?? defaultProfile;
  const { schedule, recomputeFor } = await setBookOf(store).scheduleOf(machineId, { profile: usual, thresholds });
  const fresh = { machineId, profile: usual, thresholds, schedule, ports: portsOf(store, machineId) };
  if (snapshot === null) return createTimeline(fresh);
  if (recomputeFor !== null) {
    logger.info({ machineId, promotion: recomputeFor }, 'analysing a machine anew for a promoted threshold set');
    const timeline = createTimeline(fresh);
    await rebuildMachine(store, timeline, fence);
    await store.markRecomputed(machineId, recomputeFor);
    return timeline;
  }
  try {
    return createTimeline({ ...fresh, snapshot });
  } catch (error) {
    // A snapshot of another version of the analysis: what it knew is in the archive.
    logger.warn(
      { machineId, err: error },
      'the state of a machine does not fit this version; analysing its archive anew',
    );
    const timeline = createTimeline(fresh);
    await rebuildMachine(store, timeline, fence);
    return timeline;
  }
}

/** Sample times are whole milliseconds, so one more turns an open end into a closed one. */
function portsOf(store: Store, machineId: string): TimelinePorts {
  return {
    readArchive: (fromMs, toMs) => store.readSamples({ machineId, fromMs: fromMs + 1, toMs: toMs + 1 }),
    snapshotBefore: (timeMs) => store.loadSnapshotBefore(machineId, timeMs - 1),
    findingIdsSince: (atMs) => store.findingIdsSince(machineId, atMs),
  };
}
