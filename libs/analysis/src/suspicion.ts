/** Sensors that are not believed: what depends on them gets no value from the sample after the suspicion on. */

import type { Detector, DetectorConfig, DetectorEvent } from './detector.js';
import type { ObservedBlock } from './observed-block.js';

/** Why a channel is not believed at present; each reason is lifted by itself. */
export interface Suspicion {
  readonly reason: string;
  readonly channel: string;
}

/** A suspicion that came up or was lifted at a sample. */
export interface SuspicionChange extends Suspicion {
  readonly atMs: number;
  readonly isOn: boolean;
}

/** A detector that watches sensors. It reads values as they were sent, before anything is silenced. */
export interface SensorDetector<State> extends Omit<Detector<State>, 'step'> {
  step(
    config: DetectorConfig,
    state: State,
    block: ObservedBlock,
  ): { state: State; events: DetectorEvent[]; changes: readonly SuspicionChange[] };
  /** What is suspect by a state. */
  suspicions(state: State): readonly Suspicion[];
}

/** Samples of a channel after one time, up to and with another, that count as missing. */
export interface Silence {
  readonly channel: string;
  readonly afterMs: number;
  readonly toMs: number;
}

/** Changes of the blocks without any. */
export const noChanges: readonly SuspicionChange[] = [];

/** The sensor detector with its open findings at the end of each step's events; see `repeat-open.ts`. */
export function repeatOpenSensor<State>(
  detector: Omit<SensorDetector<State>, 'current'> & {
    open(config: DetectorConfig, state: State): DetectorEvent[];
  },
): SensorDetector<State> {
  return {
    name: detector.name,
    initial: detector.initial,
    step: (config, state, block) => {
      const { state: next, events, changes } = detector.step(config, state, block);
      return { state: next, events: [...events, ...detector.open(config, next)], changes };
    },
    current: () => null,
    suspicions: detector.suspicions,
  };
}

/**
 * What is silent in a block: from the suspicions at its start and what changed in it.
 *
 * Missing: null when nothing is, which is the usual case.
 */
export function silencesOf(before: readonly Suspicion[], changes: readonly SuspicionChange[]): Silence[] | null {
  if (before.length === 0 && changes.length === 0) return null;
  const silences: Silence[] = [];
  const channels = new Set([...before, ...changes].map(({ channel }) => channel));
  for (const channel of channels) {
    const reasons = new Set(before.filter((one) => one.channel === channel).map(({ reason }) => reason));
    let afterMs = Number.NEGATIVE_INFINITY;
    const ours = changes.filter((one) => one.channel === channel).sort((a, b) => a.atMs - b.atMs);
    for (const { reason, atMs, isOn } of ours) {
      const wasSilent = reasons.size > 0;
      if (isOn) reasons.add(reason);
      else reasons.delete(reason);
      if (!wasSilent && reasons.size > 0) afterMs = atMs;
      if (wasSilent && reasons.size === 0) silences.push({ channel, afterMs, toMs: atMs });
    }
    if (reasons.size > 0) silences.push({ channel, afterMs, toMs: Number.POSITIVE_INFINITY });
  }
  return silences;
}
