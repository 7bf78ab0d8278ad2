/** Early load: a cold engine put to work before it was warm. */

import type { Detector, DetectorConfig, DetectorEvent } from './detector.js';
import { inSeconds, roundedOrNull } from './figures.js';
import { firstRunningMode, type ObservedBlock } from './observed-block.js';

/** The run that is being watched; null startedMs: none, or this run has been judged already. */
export interface EarlyLoadState {
  readonly startedMs: number | null;
  readonly coolantAtStartC: number | null;
  readonly ambientTempC: number | null;
  readonly loadedSinceMs: number | null;
  readonly loadedMs: number;
  readonly peakLoadPct: number;
}

type Work = { -readonly [K in keyof EarlyLoadState]: EarlyLoadState[K] } & {
  readonly config: DetectorConfig;
  readonly events: DetectorEvent[];
};

const nothing: EarlyLoadState = {
  startedMs: null,
  coolantAtStartC: null,
  ambientTempC: null,
  loadedSinceMs: null,
  loadedMs: 0,
  peakLoadPct: 0,
};

/**
 * Judges the first minutes after a cold start that was seen.
 *
 * Cold is coolant under `coldStartCoolantC`. Load of `earlyLoadPct` and more, held for `earlyLoadHoldS`, before the
 * warm-up wanted at that temperature has passed and while coolant is still cold, is early.
 * Missing: without coolant temperature there is no judgement.
 * Source: common practice (low idle without load for a few minutes, longer the colder it is).
 */
export const earlyLoadDetector: Detector<EarlyLoadState> = {
  name: 'early-load',
  initial: () => nothing,
  step: (config, state, block) => {
    if (state.startedMs === null && block.starts.length === 0) return { state, events: [] };
    const work: Work = { ...state, config, events: [] };
    fold(work, block);
    const { config: _config, events, ...rest } = work;
    return { state: rest, events };
  },
  current: () => null,
};

/**
 * Warm-up wanted before load, in seconds, for the colder of coolant and ambient temperature in degC.
 *
 * Source: `warmupBaseS` at 20 C and above (common practice: a few minutes), longer by `warmupPerKelvinS` for each kelvin
 * below (engineering judgement; the manual of the machine comes first).
 */
export function wantedWarmupS(config: DetectorConfig, coolantTempC: number, ambientTempC: number | null): number {
  const { warmupBaseS, warmupPerKelvinS, warmupMaxS } = config.thresholds;
  const coldestC = ambientTempC === null ? coolantTempC : Math.min(coolantTempC, ambientTempC);
  return Math.min(warmupMaxS, warmupBaseS + warmupPerKelvinS * Math.max(0, 20 - coldestC));
}

function fold(work: Work, block: ObservedBlock): void {
  let nextStart = 0;
  let i = 0;
  while (i < block.count) {
    nextStart = begin(work, block, nextStart, i);
    if (work.startedMs !== null) {
      watch(work, block, i);
      i++;
    } else {
      // Nothing is watched: go on at the next start.
      i = block.starts[nextStart]?.index ?? block.count;
    }
  }
  begin(work, block, nextStart, block.count);
}

function begin(work: Work, block: ObservedBlock, from: number, upTo: number): number {
  let next = from;
  for (; next < block.starts.length; next++) {
    const start = block.starts[next];
    if (start === undefined || start.index > upTo) break;
    Object.assign(work, nothing);
    if (start.isObserved) work.startedMs = start.atMs;
  }
  return next;
}

function watch(work: Work, block: ObservedBlock, i: number): void {
  const { thresholds } = work.config;
  const at = block.timeMs[i] as number;
  const coolant = block.coolantTempC[i] as number;
  if ((block.mode[i] as number) < firstRunningMode) {
    work.startedMs = null;
    return;
  }
  if (work.coolantAtStartC === null && coolant === coolant) work.coolantAtStartC = coolant;
  const ambient = block.ambientTempC[i] as number;
  if (work.ambientTempC === null && ambient === ambient) work.ambientTempC = ambient;
  const sinceStartS = (at - (work.startedMs as number)) / 1000;
  const isWarm = coolant === coolant && coolant >= thresholds.coldStartCoolantC;
  const isOver = sinceStartS >= thresholds.warmupMaxS && work.loadedSinceMs === null;
  if (isWarm || isOver) work.startedMs = null;
  else load(work, block, i);
}

function load(work: Work, block: ObservedBlock, i: number): void {
  const { thresholds } = work.config;
  const loadPct = block.engineLoadPct[i] as number;
  if (!(loadPct >= thresholds.earlyLoadPct)) {
    work.loadedSinceMs = null;
    work.loadedMs = 0;
    work.peakLoadPct = 0;
    return;
  }
  work.loadedSinceMs ??= block.timeMs[i] as number;
  work.loadedMs += block.heldMs[i] as number;
  work.peakLoadPct = Math.max(work.peakLoadPct, loadPct);
  if (work.loadedMs < thresholds.earlyLoadHoldS * 1000 || work.coolantAtStartC === null) return;
  judge(work);
  work.startedMs = null;
}

function judge(work: Work): void {
  const coolantTempC = work.coolantAtStartC as number;
  const wantedS = wantedWarmupS(work.config, coolantTempC, work.ambientTempC);
  const loadedSinceMs = work.loadedSinceMs as number;
  const warmupS = (loadedSinceMs - (work.startedMs as number)) / 1000;
  if (warmupS >= wantedS) return;
  work.events.push({
    kind: 'early-load',
    startedMs: loadedSinceMs,
    endedMs: loadedSinceMs + work.loadedMs,
    severity: warmupS < wantedS / 2 ? 'warning' : 'notice',
    values: {
      warmupS: inSeconds(warmupS * 1000),
      wantedS: inSeconds(wantedS * 1000),
      loadPct: work.peakLoadPct,
      coolantTempC: roundedOrNull(coolantTempC, 0),
    },
    evidence: { ambientTempC: roundedOrNull(work.ambientTempC, 1), engineStartMs: work.startedMs },
  });
}
