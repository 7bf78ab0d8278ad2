/** State of the fault log of one machine: plain JSON, bounded. */

import type { FaultReport } from '@warmbrick/signals';
import type { FaultInput, FaultKey, FaultOrigin } from './fault-episode.js';

/** Codes remembered for one controller; a list holds at most 445. Source: design decision; 1785 bytes of SAE J1939-21. */
export const maxCodesPerController = 1024;
/** Controllers remembered: every source address and the unnamed one. */
export const maxControllers = 257;
/** Times outside of this are of a clock that was never set. Source: design decision. */
export const plausibleTimesMs = { from: Date.UTC(2000, 0, 1), to: Date.UTC(2100, 0, 1) };

export interface FaultLogState {
  readonly version: 1;
  /** null until the first input. */
  readonly machineId: string | null;
  readonly controllers: Readonly<Record<string, ControllerState>>;
  /** Inputs that could not be used: a time that no clock can mean, another machine, one controller too many. */
  readonly unusable: number;
}

interface ControllerState {
  /** Time of the last input that was folded. */
  readonly lastMs: number;
  /** Time of the last active list; null when there was none. */
  readonly listedMs: number | null;
  readonly codes: Readonly<Record<string, CodeState>>;
}

export interface CodeState extends FaultKey {
  /** Episodes so far, the open one included. */
  readonly episodes: number;
  readonly open: OpenEpisode | null;
  readonly lastSeenMs: number;
}

export interface OpenEpisode {
  readonly startedMs: number;
  readonly absentAtMs: number | null;
  readonly lastSeenMs: number;
  /** First list without the code since it was last seen; null when there is none. */
  readonly absentSinceMs: number | null;
  readonly reportedCount: number | null;
  readonly lamps: FaultReport['lamps'];
  readonly flash: number;
  readonly origin: FaultOrigin;
  /** `active` until something clears it; `point` only told that it occurred; `previous` only that it once was active. */
  readonly form: 'active' | 'point' | 'previous';
}

export const initialFaultLog: FaultLogState = { version: 1, machineId: null, controllers: {}, unusable: 0 };

/** Name of a controller in the state. */
export function controllerKey(input: FaultInput): string {
  return input.sourceAddress === null ? 'x' : String(input.sourceAddress);
}

/** Time up to which a log is folded; null for an empty one. */
export function foldedToMs(state: FaultLogState): number | null {
  const times = Object.values(state.controllers).map(({ lastMs }) => lastMs);
  return times.length === 0 ? null : Math.max(...times);
}
