/** Engine runs: from the first running sample to the stop. */

import type { Detector, DetectorEvent } from './detector.js';
import { inSeconds, roundedOrNull } from './figures.js';
import {
  type EngineStart,
  type EngineStop,
  firstRunningMode,
  modeCode,
  type ObservedBlock,
  spanHeldMs,
} from './observed-block.js';

export interface EngineRunState {
  readonly startedMs: number | null;
  readonly isStartObserved: boolean;
  readonly lastMs: number;
  readonly runningMs: number;
  readonly idleMs: number;
  readonly workingMs: number;
  readonly maxTempC: number | null;
  readonly runs: number;
}

type Work = { -readonly [K in keyof EngineRunState]: EngineRunState[K] } & { readonly events: DetectorEvent[] };

/**
 * Reports every run, also the one that is still going on.
 *
 * `durationS` is start to end on the clock, `observedS` what was seen of it. Running is from `runningRpm` (400 rpm).
 */
export const engineRunDetector: Detector<EngineRunState> = {
  name: 'engine-run',
  initial: () => ({
    startedMs: null,
    isStartObserved: false,
    lastMs: 0,
    runningMs: 0,
    idleMs: 0,
    workingMs: 0,
    maxTempC: null,
    runs: 0,
  }),
  step: (_config, state, block) => {
    const work: Work = { ...state, events: [] };
    fold(work, block);
    const { events, ...rest } = work;
    return { state: rest, events };
  },
  current: (_config, state) => (state.startedMs === null ? null : runEvent(state, null)),
};

function fold(work: Work, block: ObservedBlock): void {
  const { spanCount, spanStart, mode, timeMs, heldMs, starts, stops } = block;
  let nextStart = 0;
  let nextStop = 0;
  for (let k = 0; k < spanCount; k++) {
    const from = spanStart[k] as number;
    const last = (spanStart[k + 1] as number) - 1;
    while (nextStart < starts.length && (starts[nextStart] as EngineStart).index <= from)
      begin(work, starts[nextStart++]);
    const code = mode[from] as number;
    if (code >= firstRunningMode) {
      const held = spanHeldMs(block, from, last + 1);
      work.runningMs += held;
      if (code === modeCode.working) work.workingMs += held;
      else if (code !== modeCode.light) work.idleMs += held;
      work.lastMs = (timeMs[last] as number) + (heldMs[last] as number);
      work.maxTempC = hottest(block, { from, last }, work.maxTempC);
    }
    while (nextStop < stops.length && (stops[nextStop] as EngineStop).index <= last) end(work, stops[nextStop++]);
  }
  while (nextStart < starts.length) begin(work, starts[nextStart++]);
}

function hottest(block: ObservedBlock, span: { from: number; last: number }, soFarC: number | null): number | null {
  const { exhaustTempC } = block;
  let maxTempC = soFarC ?? Number.NEGATIVE_INFINITY;
  for (let i = span.from; i <= span.last; i++) {
    const tempC = exhaustTempC[i] as number;
    if (tempC > maxTempC) maxTempC = tempC;
  }
  return maxTempC === Number.NEGATIVE_INFINITY ? null : maxTempC;
}

function begin(work: Work, start: EngineStart | undefined): void {
  if (start === undefined) return;
  Object.assign(work, { startedMs: start.atMs, isStartObserved: start.isObserved, lastMs: start.atMs });
  Object.assign(work, { runningMs: 0, idleMs: 0, workingMs: 0, maxTempC: null, runs: work.runs + 1 });
}

function end(work: Work, stop: EngineStop | undefined): void {
  if (stop === undefined || work.startedMs === null) return;
  work.events.push(runEvent(work, stop));
  work.startedMs = null;
}

function runEvent(state: EngineRunState, stop: EngineStop | null): DetectorEvent {
  const startedMs = state.startedMs as number;
  const endMs = stop === null ? state.lastMs : stop.atMs;
  return {
    kind: 'engine-run',
    startedMs,
    endedMs: stop === null ? null : stop.atMs,
    severity: 'info',
    values: {
      durationS: inSeconds(endMs - startedMs),
      observedS: inSeconds(state.runningMs),
      idleS: inSeconds(state.idleMs),
      workingS: inSeconds(state.workingMs),
      maxExhaustTempC: roundedOrNull(state.maxTempC, 1),
      cooldownS: stop === null || stop.cooldownS === null ? null : inSeconds(stop.cooldownS * 1000),
    },
    evidence: {
      startObserved: state.isStartObserved,
      stopSeenBy: stop === null ? null : stop.proof,
      stopTimeKnown: stop === null ? null : stop.isTimeKnown,
    },
  };
}
