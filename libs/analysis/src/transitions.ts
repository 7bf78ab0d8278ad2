/** Everything rare in an engine's life: starts, stops, gaps and samples without a usable speed. */

import type { DetectorConfig } from './detector.js';
import type { ObserverState } from './engine-observer.js';
import { type GapVerdict, resolveGap } from './gap-resolution.js';
import {
  type EngineStart,
  type EngineStop,
  firstRunningMode,
  modeCode,
  type ObservationGap,
  type StopProof,
} from './observed-block.js';
import type { SampleWindow } from './sample-window.js';

/** Metal left alone cools to this. Source: engineering judgement. */
const coldMetalC = 20;
/** Time constant of a turbine cooling with the engine off, in seconds. Source: engineering judgement. */
const offTauS = 1800;

/** Running figures that the hot loop and the transitions share. Missing: -1 for the cool-down, NaN for temperatures. */
export interface EngineFigures {
  cooldownMs: number;
  metalTempC: number;
  metalAtLoadC: number;
  hasTurbineSensor: boolean;
  /** Length of stretch that `decay` of the turbine metal is for, in ms; -1 before the first. */
  decayMs: number;
  decay: number;
}

export interface Transitions {
  readonly figures: EngineFigures;
  readonly starts: EngineStart[];
  readonly stops: EngineStop[];
  readonly gaps: ObservationGap[];
  /** Takes in the very first sample of a machine. */
  enterFirst(): void;
  /** Leaves sample i, of mode `code`, towards a sample of mode `next`; returns how long it holds, in ms. */
  leave(i: number, code: number, next: number): number;
  /** Arrives at sample i + 1, after the held part of stretch i is accounted for. */
  enter(i: number, code: number, next: number): void;
  finish(): ObserverState;
}

/** Working space of the transitions of one block. */
interface Course {
  readonly config: DetectorConfig;
  readonly window: SampleWindow;
  readonly before: ObserverState;
  readonly figures: EngineFigures;
  readonly starts: EngineStart[];
  readonly stops: EngineStop[];
  readonly gaps: ObservationGap[];
  /** Time and mode of the last usable sample; after an inferred stop the mode is off. */
  usableMs: number | null;
  usableMode: number;
  readonly seen: {
    hours: number | null;
    hoursMs: number | null;
    hoursUpTo: number;
    coolantTempC: number | null;
    coolantUpTo: number;
  };
  /** Whether nothing unexplained lies between the last two samples. */
  isContinuous: boolean;
}

/** Starts the transitions of one block. */
export function createTransitions(config: DetectorConfig, before: ObserverState, window: SampleWindow): Transitions {
  const figures: EngineFigures = {
    cooldownMs: before.cooldownMs ?? -1,
    metalTempC: before.metalTempC ?? Number.NaN,
    metalAtLoadC: before.metalAtLoadC ?? Number.NaN,
    hasTurbineSensor: before.hasTurbineSensor,
    decayMs: -1,
    decay: 1,
  };
  const course: Course = {
    config,
    window,
    before,
    figures,
    starts: [],
    stops: [],
    gaps: [],
    usableMs: before.usableMs,
    usableMode: before.usableMode,
    seen: {
      hours: before.hours,
      hoursMs: before.hoursMs,
      hoursUpTo: -1,
      coolantTempC: before.usableCoolantTempC,
      coolantUpTo: -1,
    },
    isContinuous: true,
  };
  return {
    figures,
    starts: course.starts,
    stops: course.stops,
    gaps: course.gaps,
    enterFirst: () => enterFirst(course),
    leave: (i, code, next) => leave(course, i, { code, next }),
    enter: (i, code, next) => enter(course, i, { code, next }),
    finish: () => finish(course),
  };
}

interface Modes {
  readonly code: number;
  readonly next: number;
}

function enterFirst(course: Course): void {
  const { mode, timeMs, load } = course.window;
  const code = mode[0] as number;
  course.usableMode = code;
  if (code < firstRunningMode) return;
  course.starts.push({ index: 0, atMs: timeMs[0] as number, isObserved: false });
  const loadPct = load[0] as number;
  const isLoaded = loadPct === loadPct ? loadPct >= course.config.profile.noLoadPct : code !== modeCode.idle;
  if (isLoaded) course.figures.cooldownMs = 0;
}

function leave(course: Course, i: number, modes: Modes): number {
  const { window, config } = course;
  if (modes.code !== modeCode.unobserved) {
    course.usableMode = modes.code;
    course.usableMs = window.timeMs[i] as number;
  }
  const elapsedMs = (window.timeMs[i + 1] as number) - (window.timeMs[i] as number);
  let held = Math.min(elapsedMs, config.thresholds.maxHoldS * 1000);
  window.restMode[i] = modeCode.unobserved;
  const fromMs = course.usableMs;
  const isGap = fromMs !== null && (window.timeMs[i + 1] as number) - fromMs > config.thresholds.maxHoldS * 1000;
  if (modes.next !== modeCode.unobserved && isGap) {
    const verdict = settle(course, i, { fromMs, next: modes.next });
    if (verdict.isOff) window.restMode[i] = modeCode.off;
    if (verdict.stop !== null && modes.code !== modeCode.unobserved) held = 0;
  }
  course.isContinuous = held === elapsedMs || window.restMode[i] === modeCode.off;
  return held;
}

function enter(course: Course, i: number, modes: Modes): void {
  const { window, figures } = course;
  const atMs = window.timeMs[i + 1] as number;
  if (modes.next === modeCode.unobserved) return;
  const wasRunning = course.usableMode >= firstRunningMode;
  const isRunning = modes.next >= firstRunningMode;
  if (wasRunning && !isRunning) addStop(course, { index: i, atMs, proof: 'sample', isTimeKnown: true });
  if (isRunning && !wasRunning) {
    const { usableMs } = course;
    course.starts.push({ index: i + 1, atMs, isObserved: usableMs !== null && course.isContinuous });
    figures.cooldownMs = -1;
    figures.metalAtLoadC = Number.NaN;
    const offS = usableMs === null ? 0 : (atMs - usableMs) / 1000;
    const metalTempC = known(figures.metalTempC) ?? coldMetalC;
    figures.metalTempC = coldMetalC + (metalTempC - coldMetalC) * Math.exp(-offS / offTauS);
  }
  course.usableMode = modes.next;
}

/** Decides what a long stretch without a usable engine speed was, now that there is one again. */
function settle(course: Course, i: number, at: { fromMs: number; next: number }): GapVerdict {
  const { window, config } = course;
  const { fromMs } = at;
  const toMs = window.timeMs[i + 1] as number;
  lastHours(course, i);
  lastCoolant(course, i);
  const { hours, hoursMs, coolantTempC } = course.seen;
  const hoursAfter = window.hours[i + 1] as number;
  const coolantAfter = window.coolant[i + 1] as number;
  const verdict = resolveGap({
    elapsedS: (toMs - fromMs) / 1000,
    wasRunning: course.usableMode >= firstRunningMode,
    isRunning: at.next >= firstRunningMode,
    ranS: hours !== null && hoursAfter === hoursAfter ? (hoursAfter - hours) * 3600 : null,
    sinceHoursS: hoursMs === null ? 0 : (toMs - hoursMs) / 1000,
    coolantBeforeC: coolantTempC,
    coolantAfterC: coolantAfter === coolantAfter ? coolantAfter : null,
    silentStopS: config.thresholds.silentStopS,
  });
  const wasRunning = course.usableMode >= firstRunningMode;
  if (verdict.stop !== null) {
    addStop(course, { index: i, atMs: fromMs, proof: verdict.stop, isTimeKnown: verdict.isStopTimeKnown });
    course.usableMode = modeCode.off;
  } else if (wasRunning || verdict.engineRan === true) {
    const reason = (window.timeMs[i] as number) === fromMs ? 'no-samples' : 'no-engine-speed';
    course.gaps.push({ index: i, fromMs, toMs, engineRan: verdict.engineRan, reason });
  }
  return verdict;
}

function addStop(course: Course, stop: { index: number; atMs: number; proof: StopProof; isTimeKnown: boolean }): void {
  const { cooldownMs, metalAtLoadC, metalTempC, hasTurbineSensor } = course.figures;
  course.stops.push({
    ...stop,
    cooldownS: cooldownMs < 0 ? null : cooldownMs / 1000,
    metalAtLoadC: known(metalAtLoadC),
    metalAtStopC: known(metalTempC),
    hasTurbineSensor,
  });
}

/** Last value of a column up to sample i; remembers how far it has looked, so that looking costs each sample once. */
function lastHours(course: Course, i: number): void {
  const { hours, timeMs, hasHours } = course.window;
  const { seen } = course;
  for (let k = i; hasHours && k > seen.hoursUpTo; k--) {
    const value = hours[k] as number;
    if (value === value) {
      seen.hours = value;
      seen.hoursMs = timeMs[k] as number;
      break;
    }
  }
  seen.hoursUpTo = Math.max(seen.hoursUpTo, i);
}

function lastCoolant(course: Course, i: number): void {
  const { coolant, mode } = course.window;
  const { seen } = course;
  for (let k = i; k > seen.coolantUpTo; k--) {
    const value = coolant[k] as number;
    if (value === value && mode[k] !== modeCode.unobserved) {
      seen.coolantTempC = value;
      break;
    }
  }
  seen.coolantUpTo = Math.max(seen.coolantUpTo, i);
}

function finish(course: Course): ObserverState {
  const { window, figures } = course;
  const end = window.length - 1;
  if (end < 0) return course.before;
  lastHours(course, end);
  lastCoolant(course, end);
  const code = window.mode[end] as number;
  const isUsable = code !== modeCode.unobserved;
  return {
    last: window.last(),
    usableMs: isUsable ? (window.timeMs[end] as number) : course.usableMs,
    usableMode: isUsable ? code : course.usableMode,
    usableCoolantTempC: course.seen.coolantTempC,
    hours: course.seen.hours,
    hoursMs: course.seen.hoursMs,
    cooldownMs: figures.cooldownMs < 0 ? null : figures.cooldownMs,
    metalTempC: known(figures.metalTempC),
    metalAtLoadC: known(figures.metalAtLoadC),
    hasTurbineSensor: figures.hasTurbineSensor,
  };
}

/** NaN has no place in a state that goes through JSON. */
function known(value: number): number | null {
  return Number.isNaN(value) ? null : value;
}
