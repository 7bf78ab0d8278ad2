/** The engine observer: samples in, stretches with operating modes, starts, stops and gaps out. */

import { steadyTurbineOutTempC } from '@warmbrick/aftertreatment';
import type { SampleBlock } from '@warmbrick/signals';
import type { DetectorConfig } from './detector.js';
import { type GapEvidence, resolveGap } from './gap-resolution.js';
import {
  type EngineStart,
  type EngineStop,
  firstRunningMode,
  modeCode,
  type ObservationGap,
  type ObservedBlock,
  type StopProof,
} from './observed-block.js';
import { createSampleWindow, type LastSample, type SampleWindow } from './sample-window.js';

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

/** Metal left alone cools to this. Source: engineering judgement. */
const coldMetalC = 20;
/** Time constant of a turbine cooling with the engine off, in seconds. Source: engineering judgement. */
const offTauS = 1800;

/**
 * Observes one block.
 *
 * Shapes: n samples give n stretches (n - 1 for the first block). The arrays of the result are only good until the next call.
 * Missing: a sample without a usable engine speed is unobserved for as long as it holds.
 */
export function observe(
  config: DetectorConfig,
  state: ObserverState,
  block: SampleBlock,
): { state: ObserverState; observed: ObservedBlock } {
  const window = createSampleWindow(state.last, block);
  const fold = createFold(config, state, window);
  for (let i = 0; i < window.count; i++) fold.stretch(i);
  return { state: fold.finish(), observed: fold.observed };
}

interface Fold {
  stretch(i: number): void;
  finish(): ObserverState;
  readonly observed: ObservedBlock;
}

function createFold(config: DetectorConfig, state: ObserverState, window: SampleWindow): Fold {
  const { profile, thresholds } = config;
  const { timeMs, rpm, load, turbineTempC, exhaustTempC, coolant, hours, heldMs, restMs, mode, restMode } = window;
  const maxHoldMs = thresholds.maxHoldS * 1000;
  const cooldownWantedMs = thresholds.cooldownWantedS * 1000;
  const idleTopRpm = profile.baseIdleRpm + profile.idleBandRpm;
  const { runningRpm, noLoadPct, workingLoadPct } = profile;
  const starts: EngineStart[] = [];
  const stops: EngineStop[] = [];
  const gaps: ObservationGap[] = [];

  let { usableMs, usableMode, usableCoolantTempC, cooldownMs, metalTempC, metalAtLoadC, hasTurbineSensor } = state;
  let hoursValue = state.hours;
  let hoursMs = state.hoursMs;
  let isContinuous = true;
  let decayMs = -1;
  let decay = 1;
  if (state.last === null && window.length > 0) enter(0);

  /** Mode of sample i, or unobserved when its speed is not usable. */
  function classify(i: number): number {
    const speed = rpm[i] as number;
    if (!(speed >= 0)) return modeCode.unobserved;
    if (speed < runningRpm) return speed > 0 ? modeCode.cranking : modeCode.off;
    const loadPct = load[i] as number;
    if (speed <= idleTopRpm && !(loadPct >= noLoadPct)) return modeCode.idle;
    return loadPct >= workingLoadPct ? modeCode.working : modeCode.light;
  }

  /** Takes sample i in: what it says of the engine from now on. */
  function enter(i: number): void {
    const at = timeMs[i] as number;
    const code = classify(i);
    const engineHours = hours[i] as number;
    if (code !== modeCode.unobserved) {
      const wasRunning = usableMode >= firstRunningMode;
      if (code >= firstRunningMode && !wasRunning) {
        starts.push({ index: i, atMs: at, isObserved: usableMs !== null && isContinuous });
        cooldownMs = null;
        metalAtLoadC = null;
        metalTempC = metalTempC === null ? null : relax(metalTempC, coldMetalC, at - (usableMs ?? at), offTauS);
      }
      usableMs = at;
      usableMode = code;
      if (coolant[i] === coolant[i]) usableCoolantTempC = coolant[i] as number;
      if (code >= firstRunningMode) takeLoad(i, code);
    }
    if (engineHours === engineHours) {
      hoursValue = engineHours;
      hoursMs = at;
    }
  }

  function takeLoad(i: number, code: number): void {
    const loadPct = load[i] as number;
    const isLoaded = loadPct === loadPct ? loadPct >= noLoadPct : code !== modeCode.idle;
    if (metalTempC === null) metalTempC = targetTempC(i);
    if (isLoaded) {
      cooldownMs = 0;
      metalAtLoadC = metalTempC;
    }
  }

  /** Temperature that the turbine metal is drawn to at sample i; NaN when nothing tells. */
  function targetTempC(i: number): number {
    const sensed = turbineTempC[i] as number;
    if (sensed === sensed) {
      hasTurbineSensor = true;
      return sensed;
    }
    const loadPct = load[i] as number;
    return loadPct === loadPct ? steadyTurbineOutTempC(loadPct) : (exhaustTempC[i] as number);
  }

  function warmMetal(i: number, elapsedMs: number): void {
    if (elapsedMs !== decayMs) {
      decayMs = elapsedMs;
      decay = Math.exp(-elapsedMs / 1000 / thresholds.turbineTauS);
    }
    const target = targetTempC(i);
    const metal = metalTempC as number;
    if (target === target) metalTempC = metal === metal ? target + (metal - target) * decay : target;
  }

  function stretch(i: number): void {
    const from = timeMs[i] as number;
    const elapsedMs = (timeMs[i + 1] as number) - from;
    const code = classify(i);
    const next = classify(i + 1);
    let held = elapsedMs;
    let restCode: number = modeCode.unobserved;
    if (elapsedMs > maxHoldMs || code === modeCode.unobserved || next === modeCode.unobserved) {
      held = Math.min(elapsedMs, maxHoldMs);
      if (next !== modeCode.unobserved && usableMs !== null && (timeMs[i + 1] as number) - usableMs > maxHoldMs) {
        const settled = settleGap(i, next);
        restCode = settled.isOff ? modeCode.off : modeCode.unobserved;
        if (settled.stopsHere && code !== modeCode.unobserved) held = 0;
      }
    }
    heldMs[i] = held;
    restMs[i] = elapsedMs - held;
    restMode[i] = restCode;
    isContinuous = held === elapsedMs || restCode === modeCode.off;
    mode[i] = code;
    if (code >= firstRunningMode) {
      if (code === modeCode.idle && cooldownMs !== null) {
        if (cooldownMs < cooldownWantedMs) mode[i] = modeCode.coolingDown;
        cooldownMs += held;
      }
      if (held > 0) warmMetal(i, held);
    }
    if (usableMode >= firstRunningMode && next < firstRunningMode && next !== modeCode.unobserved) {
      addStop(i, timeMs[i + 1] as number, 'sample', true);
    }
    enter(i + 1);
  }

  /** Decides what a long stretch without a usable engine speed was, now that there is one again. */
  function settleGap(i: number, next: number): { isOff: boolean; stopsHere: boolean } {
    const fromMs = usableMs as number;
    const toMs = timeMs[i + 1] as number;
    const evidence: GapEvidence = {
      elapsedS: (toMs - fromMs) / 1000,
      wasRunning: usableMode >= firstRunningMode,
      isRunning: next >= firstRunningMode,
      ranS: ranS(hours[i + 1] as number),
      sinceHoursS: hoursMs === null ? 0 : (toMs - hoursMs) / 1000,
      coolantBeforeC: usableCoolantTempC,
      coolantAfterC: coolant[i + 1] === coolant[i + 1] ? (coolant[i + 1] as number) : null,
      silentStopS: thresholds.silentStopS,
    };
    const verdict = resolveGap(evidence);
    if (verdict.stop !== null) {
      addStop(i, fromMs, verdict.stop, verdict.isStopTimeKnown);
      usableMode = modeCode.off;
    } else if (evidence.wasRunning || verdict.engineRan === true) {
      const reason = (timeMs[i] as number) === fromMs ? 'no-samples' : 'no-engine-speed';
      gaps.push({ index: i, fromMs, toMs, engineRan: verdict.engineRan, reason });
    }
    return { isOff: verdict.isOff, stopsHere: verdict.stop !== null };
  }

  function ranS(hoursAfter: number): number | null {
    return hoursValue !== null && hoursAfter === hoursAfter ? (hoursAfter - hoursValue) * 3600 : null;
  }

  function addStop(index: number, atMs: number, proof: StopProof, isTimeKnown: boolean): void {
    const cooldownS = cooldownMs === null ? null : cooldownMs / 1000;
    stops.push({
      index,
      atMs,
      proof,
      isTimeKnown,
      cooldownS,
      metalAtLoadC: known(metalAtLoadC),
      metalAtStopC: known(metalTempC),
      hasTurbineSensor,
    });
  }

  function finish(): ObserverState {
    return {
      last: window.last(),
      usableMs,
      usableMode,
      usableCoolantTempC,
      hours: hoursValue,
      hoursMs,
      cooldownMs,
      metalTempC: known(metalTempC),
      metalAtLoadC: known(metalAtLoadC),
      hasTurbineSensor,
    };
  }

  return { stretch, finish, observed: { ...window.observed, starts, stops, gaps } };
}

function relax(value: number, target: number, elapsedMs: number, tauS: number): number {
  return target + (value - target) * Math.exp(-elapsedMs / 1000 / tauS);
}

/** NaN has no place in a state that goes through JSON. */
function known(value: number | null): number | null {
  return value === null || Number.isNaN(value) ? null : value;
}
