/** The engine observer: samples in, stretches with operating modes, starts, stops and gaps out. */

import { steadyTurbineOutTempC } from '@warmbrick/aftertreatment';
import type { SampleBlock } from '@warmbrick/signals';
import type { DetectorConfig } from './detector.js';
import { classifySamples } from './mode-classification.js';
import { firstRunningMode, modeCode, type ObservedBlock } from './observed-block.js';
import { createSampleWindow, type LastSample, type SampleWindow } from './sample-window.js';
import { silenceWindow } from './silence-window.js';
import type { Silence } from './suspicion.js';
import { createTransitions, type EngineFigures, type Transitions } from './transitions.js';

/** What is known of the engine at the last sample. Missing: null. */
export interface ObserverState {
  readonly last: LastSample | null;
  /** Last sample with a usable engine speed. */
  readonly usableMs: number | null;
  readonly usableMode: number;
  readonly usableCoolantTempC: number | null;
  readonly hours: number | null;
  readonly hoursMs: number | null;
  /** Idle at base speed since the last load; null when no load was seen since the start. */
  readonly cooldownMs: number | null;
  readonly metalTempC: number | null;
  readonly metalAtLoadC: number | null;
  readonly hasTurbineSensor: boolean;
}

export const initialObserverState: ObserverState = {
  last: null,
  usableMs: null,
  usableMode: modeCode.unobserved,
  usableCoolantTempC: null,
  hours: null,
  hoursMs: null,
  cooldownMs: null,
  metalTempC: null,
  metalAtLoadC: null,
  hasTurbineSensor: false,
};

/** Steady temperature behind the turbine at each whole percent of load. */
const steadyByLoad = Float64Array.from({ length: 252 }, (_, loadPct) => steadyTurbineOutTempC(loadPct));

/**
 * Observes one block.
 *
 * Shapes: n samples give n stretches (n - 1 for the first block). The arrays of the result are only good until the next call.
 * `silence` looks at the samples as they were sent, with the mode of each by itself, and says which to take out.
 * Missing: a sample without a usable engine speed is unobserved for as long as it holds.
 */
export function observe(
  config: DetectorConfig,
  state: ObserverState,
  block: SampleBlock,
  silence?: (sent: ObservedBlock) => readonly Silence[] | null,
): { state: ObserverState; observed: ObservedBlock } {
  let window = createSampleWindow(state.last, block);
  classifySamples(config.profile, window);
  const silences = silence?.({ ...window.observed, spanCount: 0, starts: [], stops: [], gaps: [] }) ?? null;
  if (silences !== null) window = silenceWindow(window, silences);
  const transitions = createTransitions(config, state, window);
  if (state.last === null && window.length > 0) transitions.enterFirst();
  holdSamples(config, window, transitions);
  const { starts, stops, gaps } = transitions;
  const observed = { ...window.observed, spanCount: markSpans(window), starts, stops, gaps };
  return { state: transitions.finish(), observed };
}

/**
 * How long each sample holds, cool-down and turbine metal.
 *
 * Plain going-on is taken in one go; everything else is handed to `transitions`, which shares the running figures.
 */
function holdSamples(config: DetectorConfig, window: SampleWindow, transitions: Transitions): void {
  const { count, timeMs, mode, heldMs, restMs, restMode } = window;
  const { figures } = transitions;
  const maxHoldMs = config.thresholds.maxHoldS * 1000;
  restMs.fill(0, 0, count);
  restMode.fill(modeCode.unobserved, 0, count);
  for (let from = 0; from < count; ) {
    const to = holdPlain(window, from, maxHoldMs);
    runEngine(config, window, { from, to, figures });
    from = to;
    if (to < count) {
      const code = mode[to] as number;
      const next = mode[to + 1] as number;
      arrive(config, window, { i: to, figures });
      const held = transitions.leave(to, code, next);
      heldMs[to] = held;
      restMs[to] = (timeMs[to + 1] as number) - (timeMs[to] as number) - held;
      runEngine(config, window, { from: to, to: to + 1, figures });
      transitions.enter(to, code, next);
      from = to + 1;
    }
  }
  if (count > 0) arrive(config, window, { i: count, figures });
}

/** Lets each sample hold until the next, from one on up to where something happens; returns where that is. */
function holdPlain(window: SampleWindow, from: number, maxHoldMs: number): number {
  const { count, timeMs, mode, heldMs } = window;
  let code = mode[from] as number;
  for (let i = from; i < count; i++) {
    const elapsedMs = (timeMs[i + 1] as number) - (timeMs[i] as number);
    const next = mode[i + 1] as number;
    if (code === modeCode.unobserved || next === modeCode.unobserved || elapsedMs > maxHoldMs) return i;
    if (code >= firstRunningMode !== next >= firstRunningMode) return i;
    heldMs[i] = elapsedMs;
    code = next;
  }
  return count;
}

interface Stretches {
  readonly from: number;
  readonly to: number;
  readonly figures: EngineFigures;
}

/** Cool-down and turbine metal over stretches that are all running or all not. The figures are fields for speed, see the README. */
function runEngine(config: DetectorConfig, window: SampleWindow, { from, to, figures }: Stretches): void {
  const { mode, load, turbineTempC, exhaustTempC, heldMs, hasTurbine } = window;
  if (from === to || (mode[from] as number) < firstRunningMode) return;
  const wantedMs = config.thresholds.cooldownWantedS * 1000;
  const { turbineTauS } = config.thresholds;
  const { noLoadPct } = config.profile;
  for (let i = from; i < to; i++) {
    const held = heldMs[i] as number;
    const loadPct = load[i] as number;
    const isIdle = mode[i] === modeCode.idle;
    if (loadPct === loadPct ? loadPct >= noLoadPct : !isIdle) {
      figures.cooldownMs = 0;
      figures.metalAtLoadC = figures.metalTempC;
    } else if (isIdle && figures.cooldownMs >= 0) {
      if (figures.cooldownMs < wantedMs) mode[i] = modeCode.coolingDown;
      figures.cooldownMs += held;
    }
    let targetC = loadPct === loadPct ? steadyTempC(loadPct) : (exhaustTempC[i] as number);
    if (hasTurbine) {
      const sensedC = turbineTempC[i] as number;
      if (sensedC === sensedC) {
        targetC = sensedC;
        figures.hasTurbineSensor = true;
      }
    }
    if (held !== figures.decayMs) {
      figures.decayMs = held;
      figures.decay = Math.exp(-held / 1000 / turbineTauS);
    }
    const metalTempC = figures.metalTempC;
    if (metalTempC !== metalTempC) figures.metalTempC = targetC;
    else if (targetC === targetC) figures.metalTempC = targetC + (metalTempC - targetC) * figures.decay;
  }
}

/** Takes in the load of a sample before its stretch is known. Doing so again with the stretch changes nothing. */
function arrive(config: DetectorConfig, window: SampleWindow, at: { i: number; figures: EngineFigures }): void {
  const { i, figures } = at;
  const code = window.mode[i] as number;
  if (code < firstRunningMode) return;
  const loadPct = window.load[i] as number;
  if (loadPct === loadPct ? loadPct >= config.profile.noLoadPct : code !== modeCode.idle) {
    figures.cooldownMs = 0;
    figures.metalAtLoadC = figures.metalTempC;
  }
}

/** Steady temperature behind the turbine at a load. */
function steadyTempC(loadPct: number): number {
  return steadyByLoad[Math.min(251, Math.max(0, loadPct | 0))] as number;
}

/** Marks where the mode changes or a stretch has a rest; returns the number of spans. */
function markSpans(window: SampleWindow): number {
  const { count, mode, restMs, spanStart } = window;
  let spans = 0;
  let before = -1;
  for (let i = 0; i < count; i++) {
    const code = mode[i] as number;
    if (code !== before) spanStart[spans++] = i;
    before = (restMs[i] as number) > 0 ? -1 : code;
  }
  spanStart[spans] = count;
  return spans;
}
