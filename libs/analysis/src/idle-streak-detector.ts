/** Idle streaks: from the first idle sample until work resumes. */

import type { Detector, DetectorConfig, DetectorEvent } from './detector.js';
import { inSeconds, rounded } from './figures.js';
import type { Severity } from './finding.js';
import { firstRunningMode, modeCode, type ObservedBlock, spanHeldMs } from './observed-block.js';
import { breakSpell, clearSpell, extendSpell, noSpell, type OpenSpell, restSpell, type Spell } from './spell.js';

export interface IdleStreakState {
  readonly spell: Spell;
  /** Fuel burnt in the streak, in litres, and for how long the rate was known. */
  readonly fuelL: number;
  readonly fuelKnownMs: number;
  readonly loadUnknownMs: number;
  readonly longestMs: number;
}

interface Work {
  spell: OpenSpell;
  fuelL: number;
  fuelKnownMs: number;
  loadUnknownMs: number;
  longestMs: number;
  readonly events: DetectorEvent[];
  readonly config: DetectorConfig;
}

/**
 * Finds idle streaks that pass the limit, while they are still going on.
 *
 * Idle is running, within the idle band and under the no-load limit; a blip shorter than `idleBlipS` does not end a streak
 * and counts in its length; time out of sight does not count, and ends it when longer than `gapBridgeS`.
 * Source: common practice (as little as possible, not over one hour at a stretch).
 */
export const idleStreakDetector: Detector<IdleStreakState> = {
  name: 'idle-streak',
  initial: () => ({ spell: noSpell, fuelL: 0, fuelKnownMs: 0, loadUnknownMs: 0, longestMs: 0 }),
  step: (config, state, block) => {
    const work: Work = { ...state, spell: { ...state.spell }, events: [], config };
    fold(work, block);
    const { spell, fuelL, fuelKnownMs, loadUnknownMs, longestMs, events } = work;
    return { state: { spell, fuelL, fuelKnownMs, loadUnknownMs, longestMs }, events };
  },
  current: (config, state) =>
    state.spell.lengthMs >= config.thresholds.idleLimitS * 1000 ? streakEvent(config, state, false) : null,
};

function fold(work: Work, block: ObservedBlock): void {
  const { timeMs, restMs, mode, restMode, spanStart } = block;
  const { idleBlipS } = work.config.thresholds;
  const bridgedMs = work.config.thresholds.gapBridgeS * 1000;
  const spell = work.spell;
  let nextStop = 0;
  for (let k = 0; k < block.spanCount; k++) {
    const from = spanStart[k] as number;
    const to = spanStart[k + 1] as number;
    const code = mode[from] as number;
    if (code === modeCode.idle || code === modeCode.coolingDown) {
      extendSpell(spell, timeMs[from] as number, spanHeldMs(block, from, to));
      if (spell.lengthMs > work.longestMs) work.longestMs = spell.lengthMs;
      burn(work, block, from, to);
    } else if (spell.startedMs !== null) {
      const held = spanHeldMs(block, from, to);
      const isOver =
        code >= firstRunningMode
          ? breakSpell(spell, held, idleBlipS * 1000)
          : restSpell(spell, { code, lengthMs: held, bridgedMs });
      if (isOver) end(work);
    }
    if (block.stops[nextStop]?.index === to - 1) {
      nextStop++;
      if (spell.startedMs !== null) end(work);
    }
    const rest = { code: restMode[to - 1] as number, lengthMs: restMs[to - 1] as number, bridgedMs };
    if (restSpell(spell, rest)) end(work);
  }
}

function burn(work: Work, block: ObservedBlock, from: number, to: number): void {
  const { heldMs, fuelRateLPerH, engineLoadPct } = block;
  let { fuelL, fuelKnownMs, loadUnknownMs } = work;
  for (let i = from; i < to; i++) {
    const held = heldMs[i] as number;
    const rate = fuelRateLPerH[i] as number;
    if (rate === rate) {
      fuelL += (rate * held) / 3_600_000;
      fuelKnownMs += held;
    }
    const load = engineLoadPct[i] as number;
    if (load !== load) loadUnknownMs += held;
  }
  work.fuelL = fuelL;
  work.fuelKnownMs = fuelKnownMs;
  work.loadUnknownMs = loadUnknownMs;
}

function end(work: Work): void {
  if (work.spell.lengthMs >= work.config.thresholds.idleLimitS * 1000) {
    work.events.push(streakEvent(work.config, work, true));
  }
  clearSpell(work.spell);
  work.fuelL = 0;
  work.fuelKnownMs = 0;
  work.loadUnknownMs = 0;
}

function streakEvent(config: DetectorConfig, state: IdleStreakState | Work, hasEnded: boolean): DetectorEvent {
  const { spell } = state;
  const durationS = inSeconds(spell.lengthMs);
  const fuelL = state.fuelKnownMs > 0 ? rounded(state.fuelL, 2) : null;
  return {
    kind: 'idle-streak',
    startedMs: spell.startedMs as number,
    endedMs: hasEnded ? spell.lastMs : null,
    severity: severityOf(durationS, config.thresholds.idleLimitS),
    values: {
      durationS,
      limitS: config.thresholds.idleLimitS,
      fuelL,
      fuelCost: fuelL === null ? null : rounded(fuelL * config.profile.fuelPricePerL, 2),
      hourCost: rounded((durationS / 3600) * config.profile.hourCost, 2),
    },
    evidence: {
      unobservedS: inSeconds(spell.hiddenMs),
      fuelRateKnownS: inSeconds(state.fuelKnownMs),
      loadUnknownS: inSeconds(state.loadUnknownMs),
    },
  };
}

function severityOf(durationS: number, limitS: number): Severity {
  return durationS >= 2 * limitS ? 'severe' : 'warning';
}
