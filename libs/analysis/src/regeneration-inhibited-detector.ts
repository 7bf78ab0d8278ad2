/** Regenerations that are needed and held off. */

import type { Detector, DetectorConfig, DetectorEvent } from './detector.js';
import { inSeconds } from './figures.js';
import { firstRunningMode, type ObservedBlock } from './observed-block.js';
import { breakSpell, clearSpell, extendSpell, noSpell, type OpenSpell, type Spell } from './spell.js';

/** State 2 of SPN 3700: needed, about to start. Source: domain notes on J1939, 2b. */
const neededState = 2;
/** Soot at which a regeneration should start, %. Source: SPN 3719. */
const sootTriggerPct = 100;

export interface RegenerationInhibitedState {
  readonly spell: Spell;
  readonly inhibitedMs: number;
  readonly sootPct: number | null;
  readonly peakSootPct: number | null;
}

interface Work {
  spell: OpenSpell;
  inhibitedMs: number;
  sootPct: number | null;
  peakSootPct: number | null;
  readonly events: DetectorEvent[];
  readonly config: DetectorConfig;
}

const nothing: RegenerationInhibitedState = { spell: noSpell, inhibitedMs: 0, sootPct: null, peakSootPct: null };

/**
 * Finds regenerations that are needed (state 2, or soot at 100 %) and do not come, while the engine runs.
 *
 * A finding once they were inhibited for `regenInhibitedS`, or have waited for `regenWaitS` for no reason that was sent.
 * Stopping the engine does not end the need: time with the engine off just does not count. A regeneration that starts, or
 * soot under 100 % with another state than 2, held for `regenBlipS`, does end it.
 * Missing: without `activeRegenState` nothing is said; without the inhibit state only the long wait can be.
 */
export const regenerationInhibitedDetector: Detector<RegenerationInhibitedState> = {
  name: 'regeneration-inhibited',
  initial: () => nothing,
  step: (config, state, block) => {
    const column = block.further.activeRegenState;
    if (column === undefined) return { state, events: [] };
    const work: Work = { ...state, spell: { ...state.spell }, events: [], config };
    for (let k = 0; k < block.spanCount; k++) {
      const from = block.spanStart[k] as number;
      if ((block.mode[from] as number) >= firstRunningMode) {
        foldRunning(work, block, { from, to: block.spanStart[k + 1] as number, column });
      }
    }
    const { spell, inhibitedMs, sootPct, peakSootPct, events } = work;
    return { state: { spell, inhibitedMs, sootPct, peakSootPct }, events };
  },
  current: (config, state) => (isLong(config, state) ? eventOf(config, state, false) : null),
};

function foldRunning(work: Work, block: ObservedBlock, span: { from: number; to: number; column: Float32Array }): void {
  const { heldMs, timeMs } = block;
  const { dpfSootPct: soot, regenInhibitedState: inhibit } = block.further;
  const { column } = span;
  const { spell } = work;
  const endsAfterMs = work.config.thresholds.regenBlipS * 1000;
  let isOpen = spell.startedMs !== null;
  // Number() keeps it unboxed in the loop.
  let sootPct = Number(work.sootPct ?? Number.NaN);
  for (let i = span.from; i < span.to; i++) {
    const code = column[i] as number;
    if (code !== code) continue;
    if (soot !== undefined) {
      const now = soot[i] as number;
      if (now === now) sootPct = now;
    }
    // What nearly every sample is.
    if (code === 0 && !isOpen && !(sootPct >= sootTriggerPct)) continue;
    if (code === neededState || (code === 0 && sootPct >= sootTriggerPct)) {
      isOpen = true;
      extendSpell(spell, timeMs[i] as number, heldMs[i] as number);
      if (inhibit !== undefined && inhibit[i] === 1) work.inhibitedMs += heldMs[i] as number;
      if (sootPct > (work.peakSootPct ?? -1)) work.peakSootPct = sootPct;
    } else if (spell.startedMs !== null && breakSpell(spell, heldMs[i] as number, endsAfterMs)) {
      end(work);
      isOpen = false;
    }
  }
  work.sootPct = sootPct === sootPct ? sootPct : null;
}

function end(work: Work): void {
  if (isLong(work.config, work)) work.events.push(eventOf(work.config, work, true));
  clearSpell(work.spell);
  work.inhibitedMs = 0;
  work.peakSootPct = null;
}

function isLong({ thresholds }: DetectorConfig, state: RegenerationInhibitedState | Work): boolean {
  const { regenInhibitedS, regenWaitS } = thresholds;
  return state.inhibitedMs >= regenInhibitedS * 1000 || state.spell.lengthMs >= regenWaitS * 1000;
}

function eventOf(config: DetectorConfig, state: RegenerationInhibitedState | Work, hasEnded: boolean): DetectorEvent {
  const { spell } = state;
  const isInhibited = state.inhibitedMs >= config.thresholds.regenInhibitedS * 1000;
  const peak = state.peakSootPct;
  return {
    kind: 'regeneration-inhibited',
    startedMs: spell.startedMs as number,
    endedMs: hasEnded ? spell.lastMs : null,
    severity: peak !== null && peak >= 1.2 * sootTriggerPct ? 'severe' : 'warning',
    values: {
      why: isInhibited ? 'inhibited' : 'not-started',
      durationS: inSeconds(spell.lengthMs),
      inhibitedS: inSeconds(state.inhibitedMs),
      peakSootPct: peak,
    },
    evidence: { hasSootSignal: peak !== null, limitS: config.thresholds.regenInhibitedS },
  };
}
