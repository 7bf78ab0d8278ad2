/** From indices and coverage to a score with its parts, confidence and advice. */

import type { DetectorConfig } from './detector.js';
import { rounded } from './figures.js';
import { afterWork, partPoints, type SootRiskState } from './soot-risk.js';
import type { ResidencyTotals, RiskScore, ScorePart } from './summary.js';

export interface ScoreEvidence {
  readonly residency: ResidencyTotals;
  readonly coverageRatio: number;
  readonly loadKnownS: number;
}

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
 * Range: 0-100; the parts add up to the value to the printed decimal.
 */
export function riskScore(config: DetectorConfig, risk: SootRiskState, evidence: ScoreEvidence): RiskScore | null {
  if (evidence.residency.runningS <= 0) return null;
  const parts = scoreParts(risk);
  const value = rounded(sum(parts), 1);
  const { confidence, missing } = confidenceOf(evidence);
  const isGood = value < goodScore;
  const advice = isGood ? 'Nothing to do: keep working warm and stopping cooled down.' : adviceOf(config, risk);
  return { value, parts, confidence, missing, advice, caution: isGood ? null : caution };
}

function scoreParts(risk: SootRiskState): Record<ScorePart, number> {
  return {
    'cold-running': rounded(partPoints['cold-running'] * risk.cold, 1),
    idling: rounded(partPoints.idling * risk.idling, 1),
    'hot-stops': rounded(partPoints['hot-stops'] * risk.hotStops, 1),
  };
}

function sum(parts: Readonly<Record<ScorePart, number>>): number {
  return parts['cold-running'] + parts.idling + parts['hot-stops'];
}

function confidenceOf(evidence: ScoreEvidence): { confidence: number; missing: string[] } {
  const { runningS, noTemperatureS } = evidence.residency;
  const temperatureRatio = 1 - noTemperatureS / runningS;
  const loadRatio = Math.min(1, evidence.loadKnownS / runningS);
  const amountRatio = Math.sqrt(Math.min(1, runningS / fullEvidenceS));
  const confidence = amountRatio * evidence.coverageRatio * (0.6 * temperatureRatio + 0.25 * loadRatio + 0.15);
  const missing: string[] = [];
  if (temperatureRatio < 0.95)
    missing.push(`exhaust temperature in ${percent(1 - temperatureRatio)} of the running time`);
  if (loadRatio < 0.95) missing.push(`engine load in ${percent(1 - loadRatio)} of the running time`);
  if (evidence.coverageRatio < 0.95) missing.push(`samples in ${percent(1 - evidence.coverageRatio)} of the time`);
  if (runningS < 3600) missing.push(`running time: only ${Math.max(1, Math.round(runningS / 60))} min were seen`);
  return { confidence: rounded(Math.max(0, confidence), 2), missing };
}

function percent(ratio: number): string {
  return `${Math.round(ratio * 100)} %`;
}

function adviceOf(config: DetectorConfig, risk: SootRiskState): string {
  const tempC = Math.round((config.window.lowC + config.window.highC) / 2);
  const minutes = minutesUntilGood(config, risk, tempC);
  const habit = habitAdvice(risk);
  const work =
    minutes === null
      ? `Work at ${tempC} °C alone would take over ${longestAdviceMin / 60} h to bring the score under ${goodScore}.`
      : `About ${minutes} min of work with the exhaust above ${tempC} °C would bring the score under ${goodScore}.`;
  return `${work} ${habit}`;
}

function habitAdvice(risk: SootRiskState): string {
  const points = scoreParts(risk);
  if (points['hot-stops'] > points.idling && points['hot-stops'] > 5) {
    return 'Before key-off, idle at base speed without load for about five minutes when it is safe to do so.';
  }
  return 'Switch off instead of idling, and put light jobs together into one loaded stretch.';
}

/** Smallest number of minutes, in steps of five, that brings the score under the aim; null when it takes too long. */
function minutesUntilGood(config: DetectorConfig, risk: SootRiskState, tempC: number): number | null {
  for (let minutes = 5; minutes <= longestAdviceMin; minutes += 5) {
    if (sum(scoreParts(afterWork(config, risk, tempC, minutes * 60))) < goodScore) return minutes;
  }
  return null;
}
