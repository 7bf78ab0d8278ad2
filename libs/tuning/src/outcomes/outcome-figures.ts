/** From counts to the figures that sets are weighed by. */

import { type BootstrapInterval, bootstrapInterval } from './bootstrap.js';
import type { MachineOutcome } from './judge.js';
import type { RandomSource } from './random.js';

/** What things cost, in a unit of the user's own. */
export interface CostWeights {
  /** An event that nobody was told of. */
  readonly miss: number;
  /** Somebody sent out for nothing. */
  readonly falseAlarm: number;
  /** Each finding looked at, right or wrong. */
  readonly look: number;
  /** Each hour by which a hit came after its event began. */
  readonly delayH: number;
}

/** Source: engineering judgement; give your own. */
export const usualWeights: CostWeights = { miss: 10, falseAlarm: 2, look: 0.1, delayH: 0 };

export interface Analysts {
  /** Machines that one analyst watches, and minutes for a finding. */
  readonly machinesPerAnalyst: number;
  readonly minutesPerFinding: number;
}

/** Source: engineering judgement; give your own. */
export const usualAnalysts: Analysts = { machinesPerAnalyst: 100, minutesPerFinding: 3 };

/** Units: a machine-month is 30.4375 days of machine time. Missing: NaN where nothing divides. */
export interface OutcomeFigures {
  readonly costPerMachineMonth: number;
  readonly falseAlarmsPerMachineMonth: number;
  /** Findings that one analyst looks at in a day, and the hours that takes. */
  readonly findingsPerAnalystDay: number;
  readonly hoursPerAnalystDay: number;
  /** Share of the labels that were hit, and of the findings that were right. */
  readonly hitRatio: number;
  readonly rightRatio: number;
  /** Mean time ahead of a hit event, in hours; negative behind it. */
  readonly leadH: number;
}
export type FigureName = keyof OutcomeFigures;
export const figureNames = [
  'costPerMachineMonth',
  'falseAlarmsPerMachineMonth',
  'findingsPerAnalystDay',
  'hoursPerAnalystDay',
  'hitRatio',
  'rightRatio',
  'leadH',
] as const satisfies readonly FigureName[];

export interface Weighing {
  readonly weights: CostWeights;
  readonly analysts: Analysts;
}

const hourMs = 3_600_000;
const dayMs = 24 * hourMs;
const monthMs = 30.4375 * dayMs;

/** Cost of one machine's outcome. */
export function costOf(outcome: MachineOutcome, weights: CostWeights): number {
  const delayH = Math.max(0, -outcome.leadMs) / hourMs;
  return (
    weights.miss * outcome.misses +
    weights.falseAlarm * outcome.falseAlarms +
    weights.look * outcome.raised +
    weights.delayH * delayH
  );
}

/** Figures of some machines together. */
export function outcomeFigures(outcomes: readonly MachineOutcome[], { weights, analysts }: Weighing): OutcomeFigures {
  const sum = { observedMs: 0, labels: 0, hits: 0, raised: 0, falseAlarms: 0, leadMs: 0, cost: 0 };
  for (const one of outcomes) {
    sum.observedMs += one.observedMs;
    sum.labels += one.labels;
    sum.hits += one.hits;
    sum.raised += one.raised;
    sum.falseAlarms += one.falseAlarms;
    sum.leadMs += one.leadMs;
    sum.cost += costOf(one, weights);
  }
  const months = sum.observedMs / monthMs;
  const perDay = (analysts.machinesPerAnalyst * sum.raised) / (sum.observedMs / dayMs);
  return {
    costPerMachineMonth: sum.cost / months,
    falseAlarmsPerMachineMonth: sum.falseAlarms / months,
    findingsPerAnalystDay: perDay,
    hoursPerAnalystDay: (perDay * analysts.minutesPerFinding) / 60,
    hitRatio: sum.hits / sum.labels,
    rightRatio: (sum.raised - sum.falseAlarms) / sum.raised,
    leadH: sum.leadMs / sum.hits / hourMs,
  };
}

export interface Bootstrapping {
  readonly random: RandomSource;
  readonly rounds?: number;
  readonly confidenceRatio?: number;
}

/** The interval of one figure over machines; null where it cannot be had. */
export function figureInterval(
  outcomes: readonly MachineOutcome[],
  name: FigureName,
  options: Weighing & Bootstrapping,
): BootstrapInterval | null {
  const { random, rounds, confidenceRatio } = options;
  const figure = (units: Int32Array) =>
    outcomeFigures(
      Array.from(units, (unit) => outcomes[unit] as MachineOutcome),
      options,
    )[name];
  return bootstrapInterval({
    units: outcomes.length,
    figure,
    random,
    ...(rounds === undefined ? {} : { rounds }),
    ...(confidenceRatio === undefined ? {} : { confidenceRatio }),
  });
}
