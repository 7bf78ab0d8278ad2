/** From loads, indices and coverage to a score with its parts, confidence and advice. */

import { applyUreaDepositStep, stepSootLoadG, totalDepositG, ureaDepositStep } from '@warmbrick/aftertreatment';
import { believedDeposits, burntDown, type DepositWatchState, depositRatio } from './deposit-watch.js';
import type { DetectorConfig } from './detector.js';
import { rounded } from './figures.js';
import type { LoadOutlook } from './load-outlook.js';
import { confidenceOf, type ScoreEvidence } from './score-confidence.js';
import type { SootLoadState } from './soot-load.js';
import { workConditions } from './soot-outlook.js';
import { afterWork, type SootRiskState } from './soot-risk.js';
import { sootLimitG } from './soot-table.js';
import { type RiskScore, type ScorePart, scoreParts } from './summary.js';

/** Everything that the score is reckoned from. */
export interface RiskState {
  readonly soot: SootLoadState;
  readonly deposits: DepositWatchState;
  readonly risk: SootRiskState;
}

/**
 * Weights of the parts. Source: chosen by hand on simulated fleets of seeds 11 and 12 so that blockages, regenerations and
 * derates all rank well; tests/scorecard/report.md says what they reach on other seeds.
 *
 * soot at the limit; deposits now and at their worst of late with the shares of the limit at which two thirds of the weight are
 * reached; running of late all too cold; all idling; all stops hot.
 */
const weights = {
  sootAtLimit: 0.4,
  depositsNow: 1.5,
  depositsNowRatio: 0.2,
  depositsOfLate: 1.2,
  depositsOfLateRatio: 0.4,
  cold: 0.5,
  idling: 0.1,
  hotStops: 0.1,
} as const;
/** Share of the deposit that the temperatures were right for which counts where the dosing is not sent. Source: as the weights. */
const exposureRatio = 0.3;

/** Score that the advice aims at. Source: engineering judgement. */
const goodScore = 30;
/** Work whose effect is foretold at most, in minutes. */
const longestAdviceMin = 600;
/** Points from which a habit is worth a word. Source: engineering judgement. */
const wordPoints = 2;

const caution =
  'The exhaust and what is around it get hot: keep people and anything that burns away, and park and secure the machine ' +
  'before a burn-off or an inspection. The manual of the machine and local rules come first.';

/**
 * The score of a machine, or null when its engine was not seen running.
 *
 * Each part has a pressure that rises with one thing: soot against its limit by the third power (half full is nothing yet), deposits
 * against theirs, now and at their worst of late; how much of the late running was too cold to burn anything off, which is how
 * soon the limits come; idling; hot stops. The value is 100 (1 - exp(-sum)), shared out in proportion to the pressures.
 * Heat lowers each pressure or leaves it; cold idling raises each or leaves it.
 * Range: 0-100; the parts add up to the value to the printed decimal.
 */
export function riskScore(
  config: DetectorConfig,
  state: RiskState,
  evidence: ScoreEvidence & { readonly outlook: LoadOutlook },
): RiskScore | null {
  if (evidence.residency.runningS <= 0) return null;
  const pressures = pressuresOf(config, state);
  const value = scoreOf(pressures);
  const { confidence, missing } = confidenceOf(config, state, evidence);
  const isGood = value < goodScore;
  const parts = partsOf(pressures, value);
  const advice = isGood
    ? 'Nothing to do: keep working warm and stopping cooled down.'
    : adviceOf(config, state, { outlook: evidence.outlook, parts });
  return { value, parts, confidence, missing, advice, caution: isGood ? null : caution };
}

type Pressures = Readonly<Record<ScorePart, number>>;

function pressuresOf(config: DetectorConfig, { soot, deposits, risk }: RiskState): Pressures {
  const { hasParticulateFilter, depositLimitG } = config.profile;
  const sootRatio = hasParticulateFilter ? soot.sootG / sootLimitG(config) : 0;
  // Without the dosing, more heat would call for more of it: there only what heat lowers may count.
  const now = deposits.hasDosing ? depositRatio(config, deposits) : (exposureRatio * risk.exposureG) / depositLimitG;
  const worst = deposits.hasDosing ? deposits.peakRatio : 0;
  return {
    'soot-load': weights.sootAtLimit * sootRatio ** 3,
    deposits:
      weights.depositsNow * nearing(now, weights.depositsNowRatio) +
      weights.depositsOfLate * nearing(worst, weights.depositsOfLateRatio),
    'cold-running': weights.cold * risk.cold,
    idling: weights.idling * risk.idling,
    'hot-stops': weights.hotStops * risk.hotStops,
  };
}

/** From 0 towards 1; two thirds of the way at the given share. */
function nearing(ratio: number, mostlyRatio: number): number {
  return 1 - Math.exp(-ratio / mostlyRatio);
}

function scoreOf(pressures: Pressures): number {
  return rounded(100 * (1 - Math.exp(-sum(pressures))), 1);
}

function sum(pressures: Pressures): number {
  return scoreParts.reduce((total, name) => total + pressures[name], 0);
}

/** Shares of the value; each is the difference of two rounded sums, so that they add up to it. */
function partsOf(pressures: Pressures, value: number): Record<ScorePart, number> {
  const total = sum(pressures);
  let reached = 0;
  let shown = 0;
  const parts = scoreParts.map((name) => {
    reached += pressures[name];
    const upTo = total > 0 ? rounded((value * reached) / total, 1) : 0;
    const points = rounded(upTo - shown, 1);
    shown = upTo;
    return [name, points] as const;
  });
  return Object.fromEntries(parts) as Record<ScorePart, number>;
}

interface AdviceGround {
  readonly outlook: LoadOutlook;
  readonly parts: Readonly<Record<ScorePart, number>>;
}

function adviceOf(config: DetectorConfig, state: RiskState, ground: AdviceGround): string {
  return `${workAdvice(config, state, ground.outlook)} ${habitAdvice(ground.parts)}`.trim();
}

function workAdvice(config: DetectorConfig, state: RiskState, outlook: LoadOutlook): string {
  const tempC = outlook.workTempC;
  const minutes = minutesUntilGood(config, state, tempC);
  if (minutes !== null) {
    return `About ${minutes} min of work with the exhaust above ${tempC} °C would bring the score under ${goodScore}.`;
  }
  const { minutesUntilClean } = outlook;
  if (minutesUntilClean === null) {
    return `Work at ${tempC} °C alone would take over ${longestAdviceMin / 60} h to clear it: have the filter and the doser looked at.`;
  }
  const again = 'Deposits came near their limit of late and may come again: have the doser and the mixer looked at.';
  if (minutesUntilClean === 0) return again;
  return `About ${minutesUntilClean} min of work with the exhaust above ${tempC} °C would burn off what has gathered. ${again}`;
}

function habitAdvice(parts: Readonly<Record<ScorePart, number>>): string {
  if (parts['hot-stops'] > parts.idling && parts['hot-stops'] > wordPoints) {
    return 'Before key-off, idle at base speed without load for about five minutes when it is safe to do so.';
  }
  return 'Switch off instead of idling, and put light jobs together into one loaded stretch.';
}

/** Smallest number of minutes, in steps of five, that brings the score under the aim; null when it takes too long. */
function minutesUntilGood(config: DetectorConfig, state: RiskState, tempC: number): number | null {
  for (let minutes = 5; minutes <= longestAdviceMin; minutes += 5) {
    if (scoreOf(pressuresOf(config, worked(config, state, { tempC, minutes }))) < goodScore) return minutes;
  }
  return null;
}

/** The state after work at a steady temperature without new deposits, since hot walls take next to none. */
function worked(config: DetectorConfig, state: RiskState, work: { tempC: number; minutes: number }): RiskState {
  const { tempC, minutes } = work;
  const elapsedS = minutes * 60;
  const sootG = stepSootLoadG(state.soot.sootG, workConditions(config, tempC), elapsedS);
  const left = applyUreaDepositStep(believedDeposits(config, state.deposits), ureaDepositStep(tempC, elapsedS), 0);
  return {
    soot: { ...state.soot, sootG },
    deposits: burntDown(config, state.deposits, { leftG: totalDepositG(left), minutes }),
    risk: afterWork(config, state.risk, tempC, elapsedS),
  };
}
