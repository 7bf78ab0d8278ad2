/** From loads, indices and coverage to a score with its parts, confidence and advice. */

import type { DetectorConfig } from './detector.js';
import { rounded } from './figures.js';
import type { LoadOutlook } from './load-outlook.js';
import { loadedBurnPerS, type SootLoadState, sootLimitG, workSootGPerS } from './soot-load.js';
import { afterWork, type SootRiskState } from './soot-risk.js';
import type { ResidencyTotals, RiskScore, ScorePart } from './summary.js';

/** Everything that the score is reckoned from. */
export interface RiskState {
  readonly soot: SootLoadState;
  readonly risk: SootRiskState;
}

export interface ScoreEvidence {
  readonly residency: ResidencyTotals;
  readonly coverageRatio: number;
  readonly loadKnownS: number;
  readonly outlook: LoadOutlook;
}

/** Most points that each part can give; together 100. Source: engineering judgement, see the README. */
const pointsWithFilter: Readonly<Record<ScorePart, number>> = {
  'soot-load': 35,
  deposits: 25,
  'cold-running': 25,
  idling: 8,
  'hot-stops': 7,
};
const pointsWithoutFilter: Readonly<Record<ScorePart, number>> = {
  'soot-load': 0,
  deposits: 45,
  'cold-running': 40,
  idling: 8,
  'hot-stops': 7,
};

/** Score that the advice aims at. Source: engineering judgement. */
const goodScore = 30;
/** Work whose effect is foretold at most, in minutes. */
const longestAdviceMin = 600;
/** Running time from which on more of it adds no confidence, in seconds. Source: engineering judgement. */
const fullEvidenceS = 4 * 3600;

const caution =
  'The exhaust and what is around it get hot: keep people and anything that burns away, and park and secure the machine ' +
  'before a burn-off or an inspection. The manual of the machine and local rules come first.';

/**
 * The score of a machine, or null when its engine was not seen running.
 *
 * A sum of parts, each of which rises with one thing: the soot load against its limit, the deposit that the temperatures were
 * right for against its limit, how much of the late running was too cold to burn anything off (which is how soon the limit
 * comes), idling, hot stops. Heat lowers each of them or leaves it; cold idling raises each or leaves it.
 * Range: 0-100; the parts add up to the value to the printed decimal.
 */
export function riskScore(config: DetectorConfig, state: RiskState, evidence: ScoreEvidence): RiskScore | null {
  if (evidence.residency.runningS <= 0) return null;
  const parts = scoreParts(config, state);
  const value = sum(parts);
  const { confidence, missing } = confidenceOf(evidence);
  const isGood = value < goodScore;
  const advice = isGood
    ? 'Nothing to do: keep working warm and stopping cooled down.'
    : adviceOf(config, state, evidence.outlook);
  return { value, parts, confidence, missing, advice, caution: isGood ? null : caution };
}

function scoreParts(config: DetectorConfig, { soot, risk }: RiskState): Record<ScorePart, number> {
  const { hasParticulateFilter, depositLimitG } = config.profile;
  const points = hasParticulateFilter ? pointsWithFilter : pointsWithoutFilter;
  const part = (name: ScorePart, ratio: number) => rounded(points[name] * Math.min(1, Math.max(0, ratio)), 1);
  return {
    'soot-load': part('soot-load', soot.sootG / sootLimitG(config)),
    deposits: part('deposits', risk.exposureG / depositLimitG),
    'cold-running': part('cold-running', risk.cold),
    idling: part('idling', risk.idling),
    'hot-stops': part('hot-stops', risk.hotStops),
  };
}

function sum(parts: Readonly<Record<ScorePart, number>>): number {
  return rounded(
    Object.values(parts).reduce((total, points) => total + points, 0),
    1,
  );
}

function confidenceOf(evidence: ScoreEvidence): { confidence: number; missing: string[] } {
  const { runningS, noTemperatureS } = evidence.residency;
  const temperatureRatio = 1 - noTemperatureS / runningS;
  const loadRatio = Math.min(1, evidence.loadKnownS / runningS);
  const amountRatio = Math.sqrt(Math.min(1, runningS / fullEvidenceS));
  const confidence = amountRatio * evidence.coverageRatio * (0.6 * temperatureRatio + 0.25 * loadRatio + 0.15);
  const missing: string[] = [];
  if (temperatureRatio < 0.95) {
    missing.push(`exhaust temperature in ${percent(1 - temperatureRatio)} of the running time`);
  }
  if (loadRatio < 0.95) missing.push(`engine load in ${percent(1 - loadRatio)} of the running time`);
  if (evidence.coverageRatio < 0.95) missing.push(`samples in ${percent(1 - evidence.coverageRatio)} of the time`);
  if (runningS < 3600) missing.push(`running time: only ${Math.max(1, Math.round(runningS / 60))} min were seen`);
  return { confidence: rounded(Math.max(0, confidence), 2), missing };
}

function percent(ratio: number): string {
  return `${Math.round(ratio * 100)} %`;
}

function adviceOf(config: DetectorConfig, state: RiskState, outlook: LoadOutlook): string {
  const tempC = outlook.workTempC;
  const minutes = minutesUntilGood(config, state, tempC);
  const work =
    minutes === null
      ? `Work at ${tempC} °C alone would take over ${longestAdviceMin / 60} h to bring the score under ${goodScore}: have the filter and the doser looked at.`
      : `About ${minutes} min of work with the exhaust above ${tempC} °C would bring the score under ${goodScore}.`;
  return `${work} ${habitAdvice(config, state)}`;
}

function habitAdvice(config: DetectorConfig, state: RiskState): string {
  const points = scoreParts(config, state);
  if (points['hot-stops'] > points.idling && points['hot-stops'] > 3) {
    return 'Before key-off, idle at base speed without load for about five minutes when it is safe to do so.';
  }
  return 'Switch off instead of idling, and put light jobs together into one loaded stretch.';
}

/** Smallest number of minutes, in steps of five, that brings the score under the aim; null when it takes too long. */
function minutesUntilGood(config: DetectorConfig, state: RiskState, tempC: number): number | null {
  const burnPerS = loadedBurnPerS(config, tempC);
  for (let minutes = 5; minutes <= longestAdviceMin; minutes += 5) {
    const elapsedS = minutes * 60;
    const keep = Math.exp(-burnPerS * elapsedS);
    const balanceG = burnPerS > 0 ? workSootGPerS(config) / burnPerS : state.soot.sootG;
    const soot = { ...state.soot, sootG: balanceG + (state.soot.sootG - balanceG) * keep };
    if (sum(scoreParts(config, { soot, risk: afterWork(config, state.risk, tempC, elapsedS) })) < goodScore)
      return minutes;
  }
  return null;
}
