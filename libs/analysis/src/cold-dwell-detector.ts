/** Cold dwells: long stretches of running with the exhaust below the catalyst window. */

import type { Detector, DetectorConfig, DetectorEvent } from './detector.js';
import { inSeconds, rounded } from './figures.js';
import { firstRunningMode, modeCode, type ObservedBlock, spanHeldMs } from './observed-block.js';
import {
  breakSpell,
  clearSpell,
  extendSpell,
  hideSpell,
  noSpell,
  type OpenSpell,
  restSpell,
  type Spell,
} from './spell.js';

export interface ColdDwellState {
  readonly spell: Spell;
  readonly belowReleaseMs: number;
  readonly idleMs: number;
  /** Temperature times time, for the mean, over the time that belongs to the dwell. */
  readonly degreeMs: number;
  readonly coldMs: number;
  readonly minTempC: number | null;
}

interface Work {
  spell: OpenSpell;
  belowReleaseMs: number;
  idleMs: number;
  degreeMs: number;
  coldMs: number;
  minTempC: number | null;
  readonly events: DetectorEvent[];
  readonly config: DetectorConfig;
}

/**
 * Finds dwells below the window that pass the limit, while they are still going on.
 *
 * A dwell starts below the window's low end and is only interrupted above it by `coldDeadbandC`, for at least `coldBlipS`.
 * Engine off ends it. Running without a usable temperature is time out of sight.
 * Source: common practice (low load counts as cold running too; the one-hour limit of idling).
 */
export const coldDwellDetector: Detector<ColdDwellState> = {
  name: 'cold-dwell',
  initial: () => ({ spell: noSpell, belowReleaseMs: 0, idleMs: 0, degreeMs: 0, coldMs: 0, minTempC: null }),
  step: (config, state, block) => {
    const work: Work = { ...state, spell: { ...state.spell }, events: [], config };
    fold(work, block);
    const { spell, belowReleaseMs, idleMs, degreeMs, coldMs, minTempC, events } = work;
    return { state: { spell, belowReleaseMs, idleMs, degreeMs, coldMs, minTempC }, events };
  },
  current: (config, state) =>
    state.spell.lengthMs >= config.thresholds.coldLimitS * 1000 ? dwellEvent(config, state, false) : null,
};

function fold(work: Work, block: ObservedBlock): void {
  const { restMs, mode, restMode, spanStart } = block;
  const bridgedMs = work.config.thresholds.gapBridgeS * 1000;
  const spell = work.spell;
  let nextStop = 0;
  for (let k = 0; k < block.spanCount; k++) {
    const from = spanStart[k] as number;
    const to = spanStart[k + 1] as number;
    const code = mode[from] as number;
    if (code >= firstRunningMode) foldRunning(work, block, from, to);
    else if (restSpell(spell, { code, lengthMs: spanHeldMs(block, from, to), bridgedMs })) end(work);
    if (block.stops[nextStop]?.index === to - 1) {
      nextStop++;
      if (spell.startedMs !== null) end(work);
    }
    const rest = { code: restMode[to - 1] as number, lengthMs: restMs[to - 1] as number, bridgedMs };
    if (restSpell(spell, rest)) end(work);
  }
}

/** Takes a running span in pieces that are cold, warm or without a temperature. */
function foldRunning(work: Work, block: ObservedBlock, spanFrom: number, spanTo: number): void {
  const { timeMs, exhaustTempC } = block;
  const { coldBlipS, coldDeadbandC, gapBridgeS } = work.config.thresholds;
  const { lowC } = work.config.window;
  const spell = work.spell;
  let from = spanFrom;
  while (from < spanTo) {
    const first = exhaustTempC[from] as number;
    const limitC = spell.startedMs === null ? lowC : lowC + coldDeadbandC;
    let to = from + 1;
    if (first < limitC) {
      // A dwell that starts here widens its limit by the deadband at once, which may only make this piece longer.
      while (to < spanTo && (exhaustTempC[to] as number) < lowC + coldDeadbandC) to++;
      extendSpell(spell, timeMs[from] as number, spanHeldMs(block, from, to));
      chill(work, block, from, to);
    } else if (first === first) {
      while (to < spanTo && (exhaustTempC[to] as number) >= limitC) to++;
      if (breakSpell(spell, spanHeldMs(block, from, to), coldBlipS * 1000)) end(work);
    } else {
      while (to < spanTo && (exhaustTempC[to] as number) !== (exhaustTempC[to] as number)) to++;
      if (hideSpell(spell, spanHeldMs(block, from, to), gapBridgeS * 1000)) end(work);
    }
    from = to;
  }
}

function chill(work: Work, block: ObservedBlock, from: number, to: number): void {
  const { exhaustTempC, heldMs } = block;
  const releaseC = work.config.profile.dosingReleaseTempC;
  const heldSpanMs = spanHeldMs(block, from, to);
  work.coldMs += heldSpanMs;
  const code = block.mode[from] as number;
  if (code === modeCode.idle || code === modeCode.coolingDown) work.idleMs += heldSpanMs;
  let { degreeMs, belowReleaseMs } = work;
  let minTempC = work.minTempC ?? Number.POSITIVE_INFINITY;
  for (let i = from; i < to; i++) {
    const tempC = exhaustTempC[i] as number;
    const held = heldMs[i] as number;
    degreeMs += tempC * held;
    if (tempC < releaseC) belowReleaseMs += held;
    if (tempC < minTempC) minTempC = tempC;
  }
  work.degreeMs = degreeMs;
  work.belowReleaseMs = belowReleaseMs;
  work.minTempC = minTempC;
}

function end(work: Work): void {
  if (work.spell.lengthMs >= work.config.thresholds.coldLimitS * 1000) {
    work.events.push(dwellEvent(work.config, work, true));
  }
  clearSpell(work.spell);
  Object.assign(work, { belowReleaseMs: 0, idleMs: 0, degreeMs: 0, coldMs: 0, minTempC: null });
}

function dwellEvent(config: DetectorConfig, state: ColdDwellState | Work, hasEnded: boolean): DetectorEvent {
  const { spell, coldMs } = state;
  const durationS = inSeconds(spell.lengthMs);
  const { coldLimitS } = config.thresholds;
  return {
    kind: 'cold-dwell',
    startedMs: spell.startedMs as number,
    endedMs: hasEnded ? spell.lastMs : null,
    severity: durationS >= 3 * coldLimitS ? 'warning' : 'notice',
    values: {
      durationS,
      limitS: coldLimitS,
      meanTempC: coldMs > 0 ? rounded(state.degreeMs / coldMs, 1) : null,
      minTempC: state.minTempC === null ? null : rounded(state.minTempC, 1),
      belowReleaseS: inSeconds(state.belowReleaseMs),
      windowLowC: config.window.lowC,
    },
    evidence: { idleS: inSeconds(state.idleMs), unobservedS: inSeconds(spell.hiddenMs) },
  };
}
