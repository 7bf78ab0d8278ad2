/** A moment in a machine's life: its score, and whether what it warns of came. */

import { type RiskScore, type ScorePart, scoreParts } from '@warmbrick/analysis';

export interface ScoredMoment {
  readonly machineId: string;
  /** 0-100. */
  readonly score: number;
  /** What each part adds to the sum under the score's curve; see `pressuresOf`. */
  readonly pressures: Readonly<Record<ScorePart, number>>;
  /** Whether it came within the horizon. */
  readonly hasCome: boolean;
}

/** A score of 100 is a sum without end; so near to it the sum is cut. Source: design decision. */
const highestValue = 99.9;

/**
 * The pressures that a score was made of: value = 100 (1 - exp(-sum)), parts in proportion to them. So they follow from
 * value and parts, to the printed decimal.
 */
export function pressuresOf({ value, parts }: Pick<RiskScore, 'value' | 'parts'>): Record<ScorePart, number> {
  const sum = -Math.log(1 - Math.min(highestValue, value) / 100);
  const entries = scoreParts.map((name) => [name, value > 0 ? (sum * parts[name]) / value : 0]);
  return Object.fromEntries(entries) as Record<ScorePart, number>;
}
