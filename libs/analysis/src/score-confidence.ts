/** How much a score stands on, and what was missing. */

import type { DepositWatchState } from './deposit-watch.js';
import type { DetectorConfig } from './detector.js';
import { rounded } from './figures.js';
import { sensorName } from './sensor-names.js';
import type { SootLoadState } from './soot-load.js';
import type { ResidencyTotals } from './summary.js';

export interface ScoreEvidence {
  readonly residency: ResidencyTotals;
  readonly coverageRatio: number;
  readonly loadKnownS: number;
  /** Channels that are not believed at present. */
  readonly suspectChannels: readonly string[];
}

/** Running time from which on more of it adds no confidence, in seconds. Source: engineering judgement. */
const fullEvidenceS = 4 * 3600;
/** Confidence left where soot, and where deposits are modelled without a signal of the machine. Source: engineering judgement. */
const withoutSootSignal = 0.88;
const withoutDosing = 0.92;

/**
 * Confidence 0..1 and what was missing, in words.
 *
 * The product of: running time seen up to four hours (its root), coverage, shares of the running time with temperature and
 * load, and signals of soot and dosing.
 */
export function confidenceOf(
  config: DetectorConfig,
  state: { readonly soot: SootLoadState; readonly deposits: DepositWatchState },
  evidence: ScoreEvidence,
): { confidence: number; missing: string[] } {
  const { runningS, noTemperatureS } = evidence.residency;
  const temperatureRatio = 1 - noTemperatureS / runningS;
  const loadRatio = Math.min(1, evidence.loadKnownS / runningS);
  const amountRatio = Math.sqrt(Math.min(1, runningS / fullEvidenceS));
  const lacksSoot = config.profile.hasParticulateFilter && state.soot.fused === 0;
  const lacksDosing = !state.deposits.hasDosing;
  const signals = (lacksSoot ? withoutSootSignal : 1) * (lacksDosing ? withoutDosing : 1);
  const confidence =
    amountRatio * evidence.coverageRatio * (0.6 * temperatureRatio + 0.25 * loadRatio + 0.15) * signals;
  const missing: string[] = [];
  if (temperatureRatio < 0.95) {
    missing.push(`exhaust temperature in ${percent(1 - temperatureRatio)} of the running time`);
  }
  if (loadRatio < 0.95) missing.push(`engine load in ${percent(1 - loadRatio)} of the running time`);
  if (evidence.coverageRatio < 0.95) missing.push(`samples in ${percent(1 - evidence.coverageRatio)} of the time`);
  if (runningS < 3600) missing.push(`running time: only ${Math.max(1, Math.round(runningS / 60))} min were seen`);
  if (lacksSoot) missing.push('a soot signal: the soot is modelled only');
  if (lacksDosing) missing.push('the dosing of DEF: deposits are modelled from temperatures only');
  for (const channel of evidence.suspectChannels)
    missing.push(`${sensorName(channel)}: its sensor is suspect and not believed`);
  return { confidence: rounded(Math.max(0, confidence), 2), missing };
}

function percent(ratio: number): string {
  return `${Math.round(ratio * 100)} %`;
}
