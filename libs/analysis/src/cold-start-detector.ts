/** Cold starts: how each start in frost was done, and when the exhaust was warm enough to dose. */

import type { Detector, DetectorConfig, DetectorEvent } from './detector.js';
import { wantedWarmupS } from './early-load-detector.js';
import { inSeconds, roundedOrNull } from './figures.js';
import { firstRunningMode, modeCode, type ObservedBlock } from './observed-block.js';

/** The start that is being watched; 0: none. Times in epoch ms. Missing: null. */
export interface ColdStartState {
  readonly startedMs: number;
  readonly coolantTempC: number | null;
  readonly ambientTempC: number | null;
  /** First sample of a load that lasts, so far or at last. */
  readonly loadedSinceMs: number;
  readonly loadedMs: number;
  readonly releasedMs: number;
  readonly lastMs: number;
}

type Work = { -readonly [K in keyof ColdStartState]: ColdStartState[K] } & {
  readonly config: DetectorConfig;
  readonly events: DetectorEvent[];
};

const nothing: ColdStartState = {
  startedMs: 0,
  coolantTempC: null,
  ambientTempC: null,
  loadedSinceMs: 0,
  loadedMs: 0,
  releasedMs: 0,
  lastMs: 0,
};

/**
 * Reports each start in frost that was seen: warm-up before the first load against what the cold called for, and the time
 * until the exhaust passed the dosing release temperature.
 *
 * A start counts with coolant under `coldStartCoolantC` and ambient under `frostStartC` (without an ambient temperature:
 * coolant under it). Watched until load and release have come, at most `coldReleaseS`; a stop ends it.
 * Missing: without coolant temperature nothing is said.
 * Source: common practice for the warm-up; dosing within 70 minutes of a cold start, from memory of the rules.
 */
export const coldStartDetector: Detector<ColdStartState> = {
  name: 'cold-start',
  initial: () => nothing,
  step: (config, state, block) => {
    if (state.startedMs === 0 && block.starts.length === 0) return { state, events: [] };
    const work: Work = { ...state, config, events: [] };
    fold(work, block);
    const { config: _config, events, ...rest } = work;
    return { state: rest, events };
  },
  current: () => null,
};

function fold(work: Work, block: ObservedBlock): void {
  let nextStart = 0;
  let i = 0;
  while (i < block.count) {
    nextStart = begin(work, block, { from: nextStart, upTo: i });
    if (work.startedMs === 0) {
      i = Math.max(i + 1, block.starts[nextStart]?.index ?? block.count);
    } else {
      watch(work, block, i);
      i++;
    }
  }
  begin(work, block, { from: nextStart, upTo: block.count });
}

function begin(work: Work, block: ObservedBlock, range: { from: number; upTo: number }): number {
  let next = range.from;
  for (; next < block.starts.length; next++) {
    const start = block.starts[next];
    if (start === undefined || start.index > range.upTo) break;
    if (work.startedMs !== 0) judge(work, 'stopped');
    Object.assign(work, nothing);
    if (start.isObserved) {
      work.startedMs = start.atMs;
      work.lastMs = start.atMs;
    }
  }
  return next;
}

function watch(work: Work, block: ObservedBlock, i: number): void {
  const { thresholds, profile } = work.config;
  const atMs = block.timeMs[i] as number;
  const code = block.mode[i] as number;
  if (atMs - work.startedMs > thresholds.coldReleaseS * 1000) {
    judge(work, 'watched');
    return;
  }
  if (code === modeCode.unobserved) return;
  if (code < firstRunningMode) {
    judge(work, 'stopped');
    return;
  }
  const held = block.heldMs[i] as number;
  work.lastMs = atMs + held;
  const coolantC = block.coolantTempC[i] as number;
  if (work.coolantTempC === null && coolantC === coolantC) {
    work.coolantTempC = coolantC;
    if (coolantC >= thresholds.coldStartCoolantC) {
      Object.assign(work, nothing);
      return;
    }
  }
  const ambientC = block.ambientTempC[i] as number;
  if (work.ambientTempC === null && ambientC === ambientC) work.ambientTempC = ambientC;
  followLoad(work, block, i);
  if (work.releasedMs === 0 && (block.exhaustTempC[i] as number) >= profile.dosingReleaseTempC) work.releasedMs = atMs;
  if (work.releasedMs !== 0 && isLoaded(work)) judge(work, 'watched');
}

/** The first load that lasts `earlyLoadHoldS` ends the warm-up; a shorter one does not. */
function followLoad(work: Work, block: ObservedBlock, i: number): void {
  if (isLoaded(work)) return;
  const loadPct = block.engineLoadPct[i] as number;
  const hasLoad = loadPct === loadPct ? loadPct >= work.config.profile.noLoadPct : block.mode[i] === modeCode.working;
  if (!hasLoad) {
    work.loadedSinceMs = 0;
    work.loadedMs = 0;
    return;
  }
  if (work.loadedSinceMs === 0) work.loadedSinceMs = block.timeMs[i] as number;
  work.loadedMs += block.heldMs[i] as number;
}

function isLoaded(work: Work): boolean {
  return work.loadedSinceMs !== 0 && work.loadedMs >= work.config.thresholds.earlyLoadHoldS * 1000;
}

/** Says what was seen of the start, when it was one in frost; nothing is watched after it. */
function judge(work: Work, how: 'watched' | 'stopped'): void {
  const { frostStartC } = work.config.thresholds;
  const { coolantTempC, ambientTempC } = work;
  if (coolantTempC !== null && (ambientTempC ?? coolantTempC) < frostStartC) {
    work.events.push(startEvent(work, coolantTempC, how));
  }
  Object.assign(work, nothing);
}

function startEvent(work: Work, coolantTempC: number, how: 'watched' | 'stopped'): DetectorEvent {
  const { startedMs, releasedMs, ambientTempC } = work;
  const wantedS = wantedWarmupS(work.config, coolantTempC, ambientTempC);
  const warmupMs = (isLoaded(work) ? work.loadedSinceMs : work.lastMs) - startedMs;
  const isShort = isLoaded(work) && warmupMs < wantedS * 1000;
  const isNeverWarm = releasedMs === 0 && how === 'watched';
  return {
    kind: 'cold-start',
    startedMs,
    endedMs: work.lastMs,
    severity: isNeverWarm ? 'notice' : 'info',
    values: {
      grade: isNeverWarm ? 'never-warm' : isShort ? 'short-warm-up' : 'as-wanted',
      coolantTempC,
      ambientTempC: roundedOrNull(ambientTempC, 1),
      warmupS: inSeconds(warmupMs),
      wantedS: inSeconds(wantedS * 1000),
      releaseAfterS: releasedMs === 0 ? null : inSeconds(releasedMs - startedMs),
    },
    evidence: {
      wasLoaded: isLoaded(work),
      watchedS: inSeconds(work.lastMs - startedMs),
      releaseTempC: work.config.profile.dosingReleaseTempC,
      releaseLimitS: work.config.thresholds.coldReleaseS,
    },
  };
}
