/** The engine observer: samples in, stretches with operating modes, starts, stops and gaps out. */

import { steadyTurbineOutTempC } from '@warmbrick/aftertreatment';
import type { SampleBlock } from '@warmbrick/signals';
import type { DetectorConfig } from './detector.js';
import { classifySamples } from './mode-classification.js';
import { firstRunningMode, modeCode, type ObservedBlock } from './observed-block.js';
import { createSampleWindow, type LastSample, type SampleWindow } from './sample-window.js';
import { silenceWindow } from './silence-window.js';
import type { Silence } from './suspicion.js';
import { createTransitions, type Transitions } from './transitions.js';

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
 * The hot loop: how long each sample holds, cool-down and turbine metal. Everything that is not plain going-on is handed to
 * `transitions`, with the running figures put into it before and taken out of it after.
 */
// One loop over locals is what makes it fast; it stays in one piece.
// oxlint-disable-next-line max-lines-per-function
function holdSamples(config: DetectorConfig, window: SampleWindow, transitions: Transitions): void {
  const { thresholds } = config;
  const { count, timeMs, mode, load, turbineTempC, exhaustTempC, heldMs, restMs, restMode } = window;
  const maxHoldMs = thresholds.maxHoldS * 1000;
  const wantedMs = thresholds.cooldownWantedS * 1000;
  const { noLoadPct } = config.profile;
  const hasTurbine = window.hasTurbine;
  const figures = transitions.figures;
  let decayMs = -1;
  let decay = 1;
  let { cooldownMs, metalTempC, metalAtLoadC } = figures;
  let code = count > 0 ? (mode[0] as number) : 0;

  for (let i = 0; i < count; i++) {
    const elapsedMs = (timeMs[i + 1] as number) - (timeMs[i] as number);
    const next = mode[i + 1] as number;
    const isRunning = code >= firstRunningMode;
    const isPlain = elapsedMs <= maxHoldMs && code !== 0 && next !== 0 && isRunning === next >= firstRunningMode;
    let held = elapsedMs;
    if (!isPlain) {
      figures.cooldownMs = cooldownMs;
      figures.metalTempC = metalTempC;
      figures.metalAtLoadC = metalAtLoadC;
      held = transitions.leave(i, code, next);
    } else {
      restMode[i] = modeCode.unobserved;
    }
    heldMs[i] = held;
    restMs[i] = elapsedMs - held;

    if (isRunning) {
      if (code === modeCode.idle && cooldownMs >= 0) {
        if (cooldownMs < wantedMs) mode[i] = modeCode.coolingDown;
        cooldownMs += held;
      }
      const loadPct = load[i] as number;
      let target =
        loadPct === loadPct
          ? (steadyByLoad[Math.min(251, Math.max(0, loadPct | 0))] as number)
          : (exhaustTempC[i] as number);
      if (hasTurbine) {
        const sensed = turbineTempC[i] as number;
        if (sensed === sensed) {
          target = sensed;
          figures.hasTurbineSensor = true;
        }
      }
      if (held !== decayMs) {
        decayMs = held;
        decay = Math.exp(-held / 1000 / thresholds.turbineTauS);
      }
      if (target === target) metalTempC = metalTempC === metalTempC ? target + (metalTempC - target) * decay : target;
    }

    if (!isPlain) {
      figures.cooldownMs = cooldownMs;
      figures.metalTempC = metalTempC;
      figures.metalAtLoadC = metalAtLoadC;
      transitions.enter(i, code, next);
      cooldownMs = figures.cooldownMs;
      metalTempC = figures.metalTempC;
      metalAtLoadC = figures.metalAtLoadC;
    }
    if (next >= firstRunningMode) {
      const loadPct = load[i + 1] as number;
      if (loadPct === loadPct ? loadPct >= noLoadPct : next !== modeCode.idle) {
        cooldownMs = 0;
        metalAtLoadC = metalTempC;
      }
    }
    code = next;
  }
  figures.cooldownMs = cooldownMs;
  figures.metalTempC = metalTempC;
  figures.metalAtLoadC = metalAtLoadC;
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
