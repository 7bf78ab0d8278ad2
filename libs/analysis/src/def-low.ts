/** DEF under the level at which power is reduced. */

import { type DefLevelState, settledPct } from './def-level.js';
import type { DetectorConfig, DetectorEvent } from './detector.js';
import { rounded } from './figures.js';

/** A low level that goes on; `sinceMs` 0: none. Mutable; plain numbers. */
export interface DefLowState {
  sinceMs: number;
  lowestPct: number;
  isSevere: boolean;
}

export const notLow: Readonly<DefLowState> = { sinceMs: 0, lowestPct: 0, isSevere: false };

/**
 * Raises at `defLowPct`, clears at `defLowClearPct`.
 *
 * Severe once it was under `defSeverePct`. The event is the end of one; one that goes on is `openLow`.
 * Source: common practice, under 10 % power is reduced; 2.5 % from memory of Stage V.
 */
export function foldLow(
  config: DetectorConfig,
  low: DefLowState,
  at: { level: Readonly<DefLevelState>; atMs: number },
): DetectorEvent | null {
  const { defLowPct, defLowClearPct, defSeverePct } = config.thresholds;
  const pct = settledPct(at.level);
  if (pct === null) return null;
  if (low.sinceMs === 0) {
    if (pct >= defLowPct) return null;
    low.sinceMs = at.atMs;
    low.lowestPct = pct;
    low.isSevere = pct < defSeverePct;
    return null;
  }
  if (pct < low.lowestPct) low.lowestPct = pct;
  if (pct >= defLowClearPct) {
    const event = lowEvent(config, low, at.atMs);
    Object.assign(low, notLow);
    return event;
  }
  if (pct < defSeverePct) low.isSevere = true;
  return null;
}

/** The low level that goes on, from the state alone; null when there is none. */
export function openLow(config: DetectorConfig, low: Readonly<DefLowState>): DetectorEvent | null {
  return low.sinceMs === 0 ? null : lowEvent(config, low, null);
}

function lowEvent(config: DetectorConfig, low: Readonly<DefLowState>, endedMs: number | null): DetectorEvent {
  const { defLowPct, defLowClearPct, defSeverePct } = config.thresholds;
  return {
    kind: 'def-low',
    startedMs: low.sinceMs,
    endedMs,
    severity: low.isSevere ? 'severe' : 'warning',
    values: {
      levelPct: rounded(low.lowestPct, 1),
      litres: rounded((low.lowestPct / 100) * config.profile.defTankL, 1),
      limitPct: defLowPct,
    },
    evidence: { clearPct: defLowClearPct, severePct: defSeverePct },
  };
}
