/** Findings that go on are said again with each block, so that a re-run from any snapshot finds them said. */

import type { Detector, DetectorConfig, DetectorEvent } from './detector.js';

/** A detector that can have several findings going on at once; `open` makes them from the state alone. */
export interface OpenDetector<State> extends Omit<Detector<State>, 'current'> {
  open(config: DetectorConfig, state: State): DetectorEvent[];
}

/** The detector with its open findings at the end of each step's events. */
export function repeatOpen<State>(detector: OpenDetector<State>): Detector<State> {
  return {
    name: detector.name,
    initial: detector.initial,
    step: (config, state, block) => {
      const { state: next, events } = detector.step(config, state, block);
      return { state: next, events: [...events, ...detector.open(config, next)] };
    },
    current: () => null,
  };
}
