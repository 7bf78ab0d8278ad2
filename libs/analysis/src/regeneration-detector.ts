/** Active regenerations: how each went, and why one was broken off. */

import type { Detector, DetectorConfig, DetectorEvent } from './detector.js';
import { inSeconds, roundedOrNull } from './figures.js';
import { firstRunningMode, modeCode, type ObservedBlock, spanHeldMs } from './observed-block.js';
import { breakSpell, clearSpell, extendSpell, hideSpell, noSpell, type OpenSpell, type Spell } from './spell.js';

/** State 1 of SPN 3700: regenerating. Source: domain notes on J1939, 2b. */
const activeState = 1;

/** Shortest that is worth a finding, s: less is a state that flickers. Source: engineering judgement. */
const leastS = 60;

export interface RegenerationState {
  readonly spell: Spell;
  readonly sootBeforePct: number | null;
  readonly sootAfterPct: number | null;
  readonly peakInletC: number | null;
  readonly peakOutletC: number | null;
  /** Whether it worked under load at its first sample, and at its last. */
  readonly beganLoaded: boolean;
  readonly endsLoaded: boolean;
  readonly isInhibited: boolean;
}

type Work = { -readonly [K in keyof Omit<RegenerationState, 'spell'>]: RegenerationState[K] } & {
  spell: OpenSpell;
  readonly events: DetectorEvent[];
  readonly config: DetectorConfig;
};

type Ending = 'state-left' | 'engine-stopped' | 'lost-sight' | 'open';

const blank = {
  sootBeforePct: null,
  sootAfterPct: null,
  peakInletC: null,
  peakOutletC: null,
  beganLoaded: false,
  endsLoaded: false,
  isInhibited: false,
};
const nothing: RegenerationState = { spell: noSpell, ...blank };

/**
 * Follows active regenerations from the state that the controller sends.
 *
 * Completed: soot came down to `regenCleanPct` or by half; without a soot signal, when it lasted `regenFullS`. Anything else
 * that was seen to end is aborted, with the reason as far as the samples tell. A state left for under `regenBlipS` is no end.
 * Missing: without `activeRegenState` nothing is said; without soot the outcome rests on the time alone and says so.
 */
export const regenerationDetector: Detector<RegenerationState> = {
  name: 'regeneration',
  initial: () => nothing,
  step: (config, state, block) => {
    const column = block.further.activeRegenState;
    if (state.spell.startedMs === null && (column === undefined || !isEverActive(column))) {
      return { state, events: [] };
    }
    const work: Work = { ...state, spell: { ...state.spell }, events: [], config };
    fold(work, block, column);
    const { events, config: _config, ...rest } = work;
    return { state: rest, events };
  },
  current: (config, state) =>
    state.spell.startedMs !== null && state.spell.lengthMs >= leastS * 1000 ? eventOf(config, state, 'open') : null,
};

function isEverActive(column: Float32Array): boolean {
  for (let i = 0; i < column.length; i++) if (column[i] === activeState) return true;
  return false;
}

function fold(work: Work, block: ObservedBlock, column: Float32Array | undefined): void {
  const { mode, restMs, restMode, spanStart } = block;
  const { gapBridgeS } = work.config.thresholds;
  const { spell } = work;
  let nextStop = 0;
  for (let k = 0; k < block.spanCount; k++) {
    const from = spanStart[k] as number;
    const to = spanStart[k + 1] as number;
    const code = mode[from] as number;
    if (code >= firstRunningMode) foldRunning(work, block, { from, to, column });
    else if (spell.startedMs !== null) settle(work, code, spanHeldMs(block, from, to), gapBridgeS);
    if (block.stops[nextStop]?.index === to - 1) {
      nextStop++;
      if (spell.startedMs !== null) end(work, 'engine-stopped');
    }
    const rest = restMs[to - 1] as number;
    if (rest > 0 && spell.startedMs !== null) settle(work, restMode[to - 1] as number, rest, gapBridgeS);
  }
}

/** Engine off ends it at once; silence and samples without the state when they grow too long to bridge. */
function settle(work: Work, code: number, lengthMs: number, gapBridgeS: number): void {
  if (code !== modeCode.unobserved) end(work, 'engine-stopped');
  else if (hideSpell(work.spell, lengthMs, gapBridgeS * 1000)) end(work, 'lost-sight');
}

function foldRunning(
  work: Work,
  block: ObservedBlock,
  span: { from: number; to: number; column: Float32Array | undefined },
): void {
  const { heldMs, timeMs } = block;
  const { regenBlipS, gapBridgeS } = work.config.thresholds;
  const { spell } = work;
  const { column } = span;
  const isLoaded = (block.mode[span.from] as number) > modeCode.coolingDown;
  for (let i = span.from; i < span.to; i++) {
    const code = column === undefined ? Number.NaN : (column[i] as number);
    if (code === activeState) {
      if (spell.startedMs === null) work.beganLoaded = isLoaded;
      extendSpell(spell, timeMs[i] as number, heldMs[i] as number);
      work.endsLoaded = isLoaded;
      follow(work, block, i);
    } else if (spell.startedMs !== null) {
      follow(work, block, i);
      if (code !== code) {
        if (hideSpell(spell, heldMs[i] as number, gapBridgeS * 1000)) end(work, 'lost-sight');
      } else if (breakSpell(spell, heldMs[i] as number, regenBlipS * 1000)) end(work, 'state-left');
    }
  }
}

/** Soot and temperatures at one sample, up to the end of the blip that ends it. */
function follow(work: Work, block: ObservedBlock, i: number): void {
  const { dpfSootPct, dpfInletTempC, dpfOutletTempC, regenInhibitedState } = block.further;
  const soot = dpfSootPct?.[i] ?? Number.NaN;
  if (soot === soot) {
    work.sootBeforePct ??= soot;
    work.sootAfterPct = soot;
  }
  const inlet = dpfInletTempC?.[i] ?? Number.NaN;
  if (inlet > (work.peakInletC ?? -1000)) work.peakInletC = inlet;
  const outlet = dpfOutletTempC?.[i] ?? Number.NaN;
  if (outlet > (work.peakOutletC ?? -1000)) work.peakOutletC = outlet;
  const inhibited = regenInhibitedState?.[i] ?? Number.NaN;
  if (inhibited === inhibited) work.isInhibited = inhibited === 1;
}

function end(work: Work, how: Ending): void {
  if (work.spell.lengthMs >= leastS * 1000) work.events.push(eventOf(work.config, work, how));
  clearSpell(work.spell);
  Object.assign(work, blank);
}

/** How it went, and why when it was broken off. */
function judge(
  config: DetectorConfig,
  state: RegenerationState | Work,
  how: Ending,
): { outcome: string; why: string | null } {
  const { regenCleanPct, regenFullS } = config.thresholds;
  const { sootBeforePct, sootAfterPct } = state;
  if (how === 'open') return { outcome: 'going-on', why: null };
  const hasSoot = sootBeforePct !== null && sootAfterPct !== null;
  const isClean = hasSoot && (sootAfterPct <= regenCleanPct || sootAfterPct <= sootBeforePct / 2);
  const isFull = !hasSoot && state.spell.lengthMs >= regenFullS * 1000;
  if (isClean || isFull) return { outcome: 'completed', why: null };
  if (how === 'lost-sight') return { outcome: 'unknown', why: 'no-samples' };
  if (how === 'engine-stopped') return { outcome: 'aborted', why: 'engine-stopped' };
  if (state.isInhibited) return { outcome: 'aborted', why: 'inhibited' };
  return { outcome: 'aborted', why: state.beganLoaded && !state.endsLoaded ? 'load-dropped' : 'unknown' };
}

function eventOf(config: DetectorConfig, state: RegenerationState | Work, how: Ending): DetectorEvent {
  const { spell } = state;
  const { outcome, why } = judge(config, state, how);
  return {
    kind: 'regeneration',
    startedMs: spell.startedMs as number,
    endedMs: how === 'open' ? null : spell.lastMs,
    severity: outcome === 'aborted' ? 'warning' : 'info',
    values: {
      outcome,
      why,
      durationS: inSeconds(spell.lengthMs),
      sootBeforePct: state.sootBeforePct,
      sootAfterPct: state.sootAfterPct,
      peakInletTempC: roundedOrNull(state.peakInletC, 0),
      peakOutletTempC: roundedOrNull(state.peakOutletC, 0),
    },
    evidence: {
      hasSootSignal: state.sootBeforePct !== null,
      inhibited: state.isInhibited,
      unobservedS: inSeconds(spell.hiddenMs),
      cleanPct: config.thresholds.regenCleanPct,
    },
  };
}
