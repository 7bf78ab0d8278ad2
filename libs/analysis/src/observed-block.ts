/** Observed blocks: samples turned into the stretches of time between them, each with its operating mode. */

import type { FurtherColumns } from './further-channels.js';

/** Codes of the operating modes in an observed block; indexes into `operatingModes`. */
export const modeCode = {
  unobserved: 0,
  off: 1,
  cranking: 2,
  idle: 3,
  coolingDown: 4,
  light: 5,
  working: 6,
} as const;

/** Modes from this code on have the engine running. */
export const firstRunningMode = modeCode.idle;

export type StopProof = 'sample' | 'next-start' | 'engine-hours' | 'coolant' | 'silence';

/** The engine came to run. */
export interface EngineStart {
  /** The stretch that begins at the first running sample. */
  readonly index: number;
  readonly atMs: number;
  /** False when the engine was running already when the samples began. */
  readonly isObserved: boolean;
}

/** The engine came to rest. */
export interface EngineStop {
  /** The stretch whose held part is the last of the run. */
  readonly index: number;
  readonly atMs: number;
  /** What tells of the stop; anything but `sample` is an inference. */
  readonly proof: StopProof;
  /** False when the engine went on running unseen for a while, so that the moment of the stop is not known. */
  readonly isTimeKnown: boolean;
  /** Seconds at base idle without load since the last load; null when no load was seen in the run. */
  readonly cooldownS: number | null;
  /** Turbine metal at the last loaded sample and at the stop, in degC. */
  readonly metalAtLoadC: number | null;
  readonly metalAtStopC: number | null;
  /** Whether the metal temperature follows a turbine-side sensor (else the load model). */
  readonly hasTurbineSensor: boolean;
}

/** A long stretch without usable samples while the engine was last seen running. */
export interface ObservationGap {
  readonly index: number;
  readonly fromMs: number;
  readonly toMs: number;
  /** Whether engine hours prove that it ran on; null when nothing does. */
  readonly engineRan: boolean | null;
  readonly reason: 'no-samples' | 'no-engine-speed';
}

/**
 * Stretches i = 0..count-1, from sample i to sample i+1. Sample i holds for `heldMs[i]`; what is left until sample i+1 is
 * `restMs[i]` and has the mode `restMode[i]` (unobserved, or off where that is proven).
 *
 * Shapes: `heldMs`, `restMs`, `mode`, `restMode` have `count` entries, the sample columns `count + 1`.
 * Missing: NaN in a sample column. The arrays are only good until the next block is observed.
 */
export interface ObservedBlock {
  readonly count: number;
  readonly timeMs: Float64Array;
  readonly heldMs: Float64Array;
  readonly restMs: Float64Array;
  readonly mode: Uint8Array;
  readonly restMode: Uint8Array;
  /** Exhaust temperature that the window is judged by, and which of `exhaustSourceOrder` gave it. */
  readonly exhaustTempC: Float32Array;
  readonly exhaustSource: Uint8Array;
  readonly engineSpeedRpm: Float32Array;
  readonly engineLoadPct: Float32Array;
  readonly coolantTempC: Float32Array;
  readonly ambientTempC: Float32Array;
  readonly fuelRateLPerH: Float32Array;
  /** Columns that only some machines send; one that is not here was not sent. */
  readonly further: FurtherColumns;
  /**
   * Spans of stretches with one mode: span k is `spanStart[k]` up to `spanStart[k + 1]`, for k < `spanCount`. Only the last
   * stretch of a span may have a rest.
   */
  readonly spanCount: number;
  readonly spanStart: Int32Array;
  readonly starts: readonly EngineStart[];
  readonly stops: readonly EngineStop[];
  readonly gaps: readonly ObservationGap[];
}

/** Milliseconds that the stretches `from` up to `to` of one span held. */
export function spanHeldMs(block: ObservedBlock, from: number, to: number): number {
  const last = to - 1;
  return (block.timeMs[last] as number) - (block.timeMs[from] as number) + (block.heldMs[last] as number);
}
