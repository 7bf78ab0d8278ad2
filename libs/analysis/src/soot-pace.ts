/** How fast the soot grows by the machine's own signal: from its lowest since the last burn-off. */

import { firstAtOrAfter, markAfterMs } from './minute-marks.js';
import { firstRunningMode, type ObservedBlock } from './observed-block.js';

export interface SootPaceState {
  /** The next minute at whose first sample the signal is read; the last one read while running, 0 for none. */
  readonly markMs: number;
  readonly lastMs: number;
  /** Lowest reading since the last fall, and the running time since then; -1 before any reading. */
  readonly lowPct: number;
  readonly sinceLowMs: number;
  readonly nowPct: number;
}

export const initialSootPace: SootPaceState = { markMs: 0, lastMs: 0, lowPct: -1, sinceLowMs: 0, nowPct: -1 };

/** A longer silence than this adds no running time, ms. */
const longestStepMs = 120_000;
/** Running time from which a pace means anything, ms. Source: engineering judgement; the signal steps by a percent. */
const leastMs = 2 * 3_600_000;
const hourMs = 3_600_000;

/**
 * Follows the signal once a minute of running. Missing: without `dpfSootPct` nothing moves.
 */
export function foldSootPace(state: SootPaceState, block: ObservedBlock): SootPaceState {
  const column = block.further.dpfSootPct;
  if (column === undefined) return state;
  let i = firstAtOrAfter(block.timeMs, { from: 0, to: block.count }, state.markMs);
  if (i >= block.count) return state;
  let { markMs, lastMs, lowPct, sinceLowMs, nowPct } = state;
  while (i < block.count) {
    const pct = column[i] as number;
    if (pct !== pct) {
      // Only a reading moves the mark, so that a block without the channel is the same as one without values.
      i++;
      continue;
    }
    const atMs = block.timeMs[i] as number;
    if ((block.mode[i] as number) >= firstRunningMode) {
      const stepMs = lastMs === 0 ? 0 : atMs - lastMs;
      if (stepMs <= longestStepMs) sinceLowMs += stepMs;
      if (lowPct < 0 || pct < lowPct) {
        lowPct = pct;
        sinceLowMs = 0;
      }
      nowPct = pct;
      lastMs = atMs;
    } else lastMs = 0;
    markMs = markAfterMs(atMs);
    i = firstAtOrAfter(block.timeMs, { from: i, to: block.count }, markMs);
  }
  return { markMs, lastMs, lowPct, sinceLowMs, nowPct };
}

/** Percent of the limit that a running hour adds. Missing: null before two hours since the lowest reading. */
export function sootPacePctPerH({ lowPct, sinceLowMs, nowPct }: SootPaceState): number | null {
  return lowPct < 0 || sinceLowMs < leastMs ? null : ((nowPct - lowPct) * hourMs) / sinceLowMs;
}
