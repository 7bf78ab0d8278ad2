/** What the watch over exhaust temperatures remembers, and what it says. */

import type { DetectorConfig, DetectorEvent } from './detector.js';
import { inSeconds, rounded } from './figures.js';
import type { FurtherChannel } from './further-channels.js';
import type { SuspicionChange } from './suspicion.js';

/** Temperatures that are watched; the first is the one sent as exhaust temperature itself. */
export const watchedTemperatures = [
  'exhaustTempC',
  'turbineOutTempC',
  'docInletTempC',
  'dpfInletTempC',
  'dpfOutletTempC',
  'scrInletTempC',
  'scrOutletTempC',
] as const satisfies readonly ('exhaustTempC' | FurtherChannel)[];

/**
 * Shapes: lists by `watchedTemperatures`, but `pairs*` by the two pairs. Times in epoch ms, 0 for none.
 * `valueC` has been the same since `sinceMs` (0: nothing seen yet), while the smoothed load went from `lowPct` to `highPct`.
 */
export interface SensorSuspectState {
  /** The next minute at whose first sample everything is read; the last one read while running. */
  readonly markMs: number;
  readonly lastMs: number;
  readonly runMinutes: number;
  /** Load, smoothed over some minutes; -1 while unknown. */
  readonly loadPct: number;
  readonly valueC: readonly number[];
  readonly sinceMs: readonly number[];
  readonly lowPct: readonly number[];
  readonly highPct: readonly number[];
  readonly coldMinutes: readonly number[];
  /** Findings that go on: since when, and why (1 stuck, 2 cold). */
  readonly openMs: readonly number[];
  readonly openWhy: readonly number[];
  readonly pairMinutes: readonly number[];
  readonly pairFromMs: readonly number[];
  readonly pairOpenMs: readonly number[];
  readonly pairOffK: readonly number[];
}

/** The state while a block is folded. */
export type Work = {
  -readonly [K in keyof SensorSuspectState]: SensorSuspectState[K] extends readonly number[] ? number[] : number;
} & {
  readonly events: DetectorEvent[];
  readonly changes: SuspicionChange[];
  readonly config: DetectorConfig;
};

/** A neighbour that has to be the hotter one at steady work. */
export interface Pair {
  readonly hotter: number;
  readonly colder: number;
  readonly why: string;
}

/** SCR inlet over outlet (heat is lost on the way), turbine outlet over SCR inlet. Source: domain notes 5.3. */
export const pairs: readonly Pair[] = [
  { hotter: 5, colder: 6, why: 'colder-than-scr-outlet' },
  { hotter: 1, colder: 5, why: 'colder-than-scr-inlet' },
];

/** Codes of `openWhy`. */
export const stuckWhy = 1;
export const coldWhy = 2;

/** The finding of one channel; `endedMs` null while it goes on. */
export function channelEvent(
  config: DetectorConfig,
  work: SensorSuspectState | Work,
  at: { k: number; endedMs: number | null },
): DetectorEvent {
  const { k, endedMs } = at;
  const { sensorStuckS, sensorColdC, sensorLoadRangePct } = config.thresholds;
  const isStuck = work.openWhy[k] === stuckWhy;
  const lowPct = work.lowPct[k] as number;
  const highPct = work.highPct[k] as number;
  const hasLoad = lowPct <= highPct;
  return {
    kind: 'sensor-suspect',
    startedMs: work.openMs[k] as number,
    endedMs,
    severity: endedMs === null ? 'warning' : 'notice',
    values: {
      channel: watchedTemperatures[k] as string,
      why: isStuck ? 'stuck' : 'cold-while-running',
      tempC: rounded(work.valueC[k] as number, 1),
      loadFromPct: hasLoad ? rounded(lowPct, 0) : null,
      loadToPct: hasLoad ? rounded(highPct, 0) : null,
    },
    evidence: { limitS: inSeconds(sensorStuckS * 1000), coldC: sensorColdC, loadRangePct: sensorLoadRangePct },
  };
}

/** The finding of one pair; `endedMs` null while it goes on. */
export function pairEvent(
  config: DetectorConfig,
  work: SensorSuspectState | Work,
  at: { p: number; endedMs: number | null },
): DetectorEvent {
  const { p } = at;
  const pair = pairs[p] as Pair;
  return {
    kind: 'sensor-suspect',
    startedMs: work.pairOpenMs[p] as number,
    endedMs: at.endedMs,
    severity: at.endedMs === null ? 'warning' : 'notice',
    values: {
      channel: watchedTemperatures[pair.hotter] as string,
      why: pair.why,
      differenceK: work.pairOffK[p] as number,
    },
    evidence: {
      neighbour: watchedTemperatures[pair.colder] as string,
      limitK: config.thresholds.sensorSwapK,
      limitS: config.thresholds.sensorSwapS,
    },
  };
}
