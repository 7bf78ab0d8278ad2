/** The fault log: lists and messages of controllers in, fault episodes out. */

import type { FaultEpisode, FaultInput } from './fault-episode.js';
import { builtInFaultLogSettings, type FaultLogSettings } from './fault-log-settings.js';
import { controllerKey, type FaultLogState, maxControllers, plausibleTimesMs } from './fault-log-state.js';
import { episodeOf, foldController, type OpenController } from './fold-controller.js';
import { inCanonicalOrder } from './order-inputs.js';

export interface FoldedFaults {
  readonly state: FaultLogState;
  /** Episodes that are new or changed, as they now stand; one with an id seen before replaces the earlier one. */
  readonly episodes: readonly FaultEpisode[];
  /** Inputs that came too late for this state and were left out: see `refoldFromMs`. */
  readonly late: readonly FaultInput[];
}

/**
 * Folds inputs of one machine, in whatever order they are given, into its log.
 *
 * A code becomes active with the first list or message that has it. It clears with a later list of the same controller
 * without it, once it stayed away for `debounceS`, or with a message that says so; silence of a controller clears nothing.
 * A code that was only ever told as previously active is an episode of no length.
 * Shapes: what is folded in several calls comes out the same as in one, as long as nothing is late; an input that is not
 * later than the last one of its controller is late. Nothing passed in is changed.
 * Errors: none; inputs of another machine or an impossible time are counted in `state.unusable`.
 */
export function foldFaults(
  state: FaultLogState,
  inputs: readonly FaultInput[],
  settings: FaultLogSettings = builtInFaultLogSettings,
): FoldedFaults {
  let { machineId, unusable } = state;
  const controllers: Record<string, FaultLogState['controllers'][string]> = { ...state.controllers };
  const opened = new Map<string, OpenController>();
  const episodes = new Map<string, FaultEpisode>();
  const late: FaultInput[] = [];
  for (const input of inCanonicalOrder(inputs)) {
    machineId ??= input.machineId;
    const key = controllerKey(input);
    if (!isUsable(input, machineId) || !hasRoom(controllers, opened, key)) {
      unusable++;
      continue;
    }
    const before = controllers[key];
    if (before !== undefined && input.timeMs <= before.lastMs) {
      late.push(input);
      continue;
    }
    let controller = opened.get(key);
    if (controller === undefined) {
      controller = { lastMs: input.timeMs, listedMs: before?.listedMs ?? null, codes: { ...before?.codes } };
      opened.set(key, controller);
    }
    foldController(controller, input, { settings, say: (episode) => episodes.set(episode.id, episode) });
  }
  for (const [key, controller] of opened) controllers[key] = controller;
  return { state: { version: 1, machineId, controllers, unusable }, episodes: [...episodes.values()], late };
}

/**
 * From when on the inputs of a machine have to be read again, because one of these is not later than what the state holds of
 * its controller; null when none is late.
 *
 * Take the newest snapshot of the state that was folded up to before then (`foldedToMs`), or `initialFaultLog`, and fold
 * everything after it with `refoldFaults`. Controllers may be behind each other: whatever comes, a snapshot that was folded
 * up to the earliest of it or further does not hold it and has to go.
 */
export function refoldFromMs(state: FaultLogState, inputs: readonly FaultInput[]): number | null {
  const usable = inputs.filter((input) => isUsable(input, state.machineId ?? input.machineId));
  const isLate = usable.some((input) => {
    const lastMs = state.controllers[controllerKey(input)]?.lastMs;
    return lastMs !== undefined && input.timeMs <= lastMs;
  });
  return isLate ? Math.min(...usable.map(({ timeMs }) => timeMs)) : null;
}

/**
 * Folds again from a snapshot, with all inputs since: besides what changed it says every episode that was open at the
 * snapshot, so that what a fold without the late input had made of them is replaced.
 */
export function refoldFaults(
  snapshot: FaultLogState,
  inputs: readonly FaultInput[],
  settings: FaultLogSettings = builtInFaultLogSettings,
): FoldedFaults {
  const folded = foldFaults(snapshot, inputs, settings);
  const said = new Map(openEpisodes(snapshot).map((episode) => [episode.id, episode]));
  for (const episode of folded.episodes) said.set(episode.id, episode);
  return { ...folded, episodes: [...said.values()] };
}

/** Episodes that are open in a state, as they stand. */
export function openEpisodes(state: FaultLogState): FaultEpisode[] {
  const { machineId } = state;
  if (machineId === null) return [];
  return Object.values(state.controllers).flatMap(({ codes }) =>
    Object.values(codes).flatMap((code) => (code.open === null ? [] : [episodeOf(machineId, code, code.open)])),
  );
}

/**
 * Ids of stored episodes that a re-fold no longer makes and that have to be withdrawn.
 *
 * Shapes: `stored` are the episodes that began after the time up to which the snapshot was folded.
 */
export function withdrawnEpisodeIds(
  stored: readonly Pick<FaultEpisode, 'id'>[],
  refolded: readonly Pick<FaultEpisode, 'id'>[],
): string[] {
  const made = new Set(refolded.map(({ id }) => id));
  return stored.filter(({ id }) => !made.has(id)).map(({ id }) => id);
}

function isUsable(input: FaultInput, machineId: string): boolean {
  const { timeMs } = input;
  return input.machineId === machineId && timeMs >= plausibleTimesMs.from && timeMs <= plausibleTimesMs.to;
}

function hasRoom(
  controllers: Readonly<Record<string, unknown>>,
  opened: ReadonlyMap<string, unknown>,
  key: string,
): boolean {
  if (controllers[key] !== undefined || opened.has(key)) return true;
  const fresh = [...opened.keys()].filter((name) => controllers[name] === undefined).length;
  return Object.keys(controllers).length + fresh < maxControllers;
}
