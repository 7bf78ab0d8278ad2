/** Cold dwells: long stretches of running with the exhaust below the catalyst window. */

import type { Detector, DetectorConfig, DetectorEvent } from './detector.js';
import { inSeconds, rounded } from './figures.js';
import { firstRunningMode, modeCode, type ObservedBlock } from './observed-block.js';
import { breakSpell, clearSpell, extendSpell, hideSpell, noSpell, type OpenSpell, type Spell } from './spell.js';

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
  const { timeMs, heldMs, restMs, mode, restMode, exhaustTempC } = block;
  const { coldBlipS, coldDeadbandC, gapBridgeS } = work.config.thresholds;
  const { lowC } = work.config.window;
  const spell = work.spell;
  let nextStop = 0;
  for (let i = 0; i < block.count; i++) {
    const code = mode[i] as number;
    const held = heldMs[i] as number;
    const tempC = exhaustTempC[i] as number;
    if (code < firstRunningMode) {
      if (spell.startedMs !== null && settles(spell, code, held, gapBridgeS)) end(work);
    } else if (tempC < lowC || (spell.startedMs !== null && tempC < lowC + coldDeadbandC)) {
      extendSpell(spell, timeMs[i] as number, held);
      chill(work, tempC, held, code);
    } else if (
      tempC === tempC ? breakSpell(spell, held, coldBlipS * 1000) : hideSpell(spell, held, gapBridgeS * 1000)
    ) {
      end(work);
    }
    if (block.stops[nextStop]?.index === i) {
      nextStop++;
      if (spell.startedMs !== null) end(work);
    }
    const rest = restMs[i] as number;
    if (rest > 0 && spell.startedMs !== null && settles(spell, restMode[i] as number, rest, gapBridgeS)) end(work);
  }
}

function settles(spell: OpenSpell, code: number, lengthMs: number, gapBridgeS: number): boolean {
  return code !== modeCode.unobserved || hideSpell(spell, lengthMs, gapBridgeS * 1000);
}

function chill(work: Work, tempC: number, heldMs: number, code: number): void {
  work.coldMs += heldMs;
  work.degreeMs += tempC * heldMs;
  if (tempC < work.config.profile.dosingReleaseTempC) work.belowReleaseMs += heldMs;
  if (code === modeCode.idle || code === modeCode.coolingDown) work.idleMs += heldMs;
  if (work.minTempC === null || tempC < work.minTempC) work.minTempC = tempC;
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
