/** What the analysis knows about one machine as a whole. */

import type { ExhaustSource } from '@warmbrick/signals';
import type { DefOutlook } from './def-outlook.js';
import type { LoadOutlook } from './load-outlook.js';
import type { NoxBin } from './nox-conversion-detector.js';
import type { ResidencyRow } from './residency-row.js';

/** Parts of the soot-risk score; they add up to its value. */
export const scoreParts = ['soot-load', 'deposits', 'cold-running', 'idling', 'hot-stops'] as const;
export type ScorePart = (typeof scoreParts)[number];

export interface RiskScore {
  /** 0-100, one decimal; the sum of the parts. */
  readonly value: number;
  readonly parts: Readonly<Record<ScorePart, number>>;
  /** 0..1: how much of the evidence was there. */
  readonly confidence: number;
  /** What was missing, in words; empty when nothing was. */
  readonly missing: readonly string[];
  /** What would lower the score, in words. */
  readonly advice: string;
  /** What to mind when doing so; null where nothing hot is advised. */
  readonly caution: string | null;
}

/** Operating modes; `unobserved` is a stretch that nothing proves to be any other. */
export const operatingModes = ['unobserved', 'off', 'cranking', 'idle', 'cooling-down', 'light', 'working'] as const;
export type OperatingMode = (typeof operatingModes)[number];

/** Totals over everything observed. */
export type ResidencyTotals = Omit<ResidencyRow, 'startedMs'>;

export interface MachineSummary {
  readonly machineId: string;
  /** First and last sample, and the share of the time between them that is accounted for. */
  readonly observed: { readonly fromMs: number; readonly toMs: number; readonly coverageRatio: number };
  /** Mode at the last sample. */
  readonly mode: OperatingMode;
  readonly residency: ResidencyTotals;
  /** Seconds of running in each bin of exhaust temperature. */
  readonly histogramS: readonly number[];
  /** Seconds of running that each channel stood for the exhaust temperature. */
  readonly exhaustSourceS: Readonly<Partial<Record<ExhaustSource, number>>>;
  readonly longestIdleS: number;
  readonly runs: number;
  readonly hotShutdowns: number;
  /** What the models say of soot and deposits, null for a machine whose engine was not seen running. */
  readonly load: LoadOutlook | null;
  /** null for a machine whose engine was not seen running. */
  readonly score: RiskScore | null;
  /** Channels whose sensors are not believed at present: what depends on them goes without. */
  readonly suspectChannels: readonly string[];
  /** The DEF tank; null while no level was seen long enough. */
  readonly def: DefOutlook | null;
  /** NOx conversion by bins of exhaust temperature; empty while none was reckoned. */
  readonly noxBins: readonly NoxBin[];
}
