/** Lives a fleet and scores the analysis against it. */

import { findingKinds } from '@warmbrick/analysis';
import { variedFleet } from '@warmbrick/simulator';
import { type Calibration, calibrate, horizonsH, type Outcome, outcomes, type ScoredMoment } from './calibration.js';
import { type ScoredKind, scoredKinds } from './claims.js';
import { liveMachine } from './live-machine.js';
import { emptyTally, type KindTally, tallyMachine } from './match-claims.js';
import { livesOfSticking } from './sticking-lives.js';

export interface ScorecardPlan {
  readonly machines: number;
  readonly days: number;
  readonly seed: number;
  readonly hasOutlook: boolean;
  readonly onMachine?: (done: number) => void;
}

export interface KindScore {
  readonly kind: ScoredKind;
  /** Whether the analysis makes such findings at all. */
  readonly isMade: boolean;
  readonly hits: number;
  readonly misses: number;
  /** Share of the required that was found; null when there was none. */
  readonly foundRatio: number | null;
  readonly falseAlarms: number;
  readonly falseAlarmsPerMachineMonth: number;
  readonly findings: number;
  readonly meanOffS: number | null;
  readonly worstOffS: number | null;
  readonly examples: readonly string[];
}

export interface Scorecard {
  readonly machines: number;
  readonly days: number;
  readonly seed: number;
  readonly samples: number;
  readonly machineMonths: number;
  readonly kinds: readonly KindScore[];
  readonly calibration: Readonly<Record<Outcome, Calibration>>;
  /** AUC by outcome, an entry for each of `horizonsH`. */
  readonly aucByHorizon: Readonly<Record<Outcome, readonly (number | null)[]>>;
  /** Blockages with more machines whose urea sticks; null without the outlook. */
  readonly moreBlockages: {
    readonly machines: number;
    readonly seed: number;
    readonly came: readonly number[];
    readonly auc: readonly (number | null)[];
  } | null;
  /** Any trouble, on machines that send no soot signal: the models alone. */
  readonly modelsAlone: Calibration;
}

/** Midnight at the site, in winter: frost in the night is part of it. */
const startMs = Date.UTC(2026, 0, 11, 23);
const daysPerMonth = 365.25 / 12;

/** Runs it. Deterministic: the same plan gives the same card. */
export function runScorecard(plan: ScorecardPlan): Scorecard {
  const { machines, days, seed, hasOutlook } = plan;
  const tally = emptyTally();
  const moments: ScoredMoment[] = [];
  let samples = 0;
  for (const [i, machine] of variedFleet({ machines, days, seed }).entries()) {
    const life = liveMachine(machine, { startMs, days, seed, hasOutlook });
    tallyMachine(tally, life.claims, life);
    for (const moment of life.moments) moments.push(moment);
    samples += life.samples;
    plan.onMachine?.(i + 1);
  }
  const machineMonths = (machines * days) / daysPerMonth;
  const kinds = scoredKinds.map((kind) => scoreOf(kind, tally[kind], machineMonths));
  const calibration = Object.fromEntries(outcomes.map((outcome) => [outcome, calibrate(moments, outcome)]));
  const aucByHorizon = Object.fromEntries(
    outcomes.map((outcome) => [outcome, horizonsH.map((withinH) => calibrate(moments, outcome, withinH).auc)]),
  );
  const moreBlockages = hasOutlook ? withSticking(plan, moments) : null;
  return {
    machines,
    days,
    seed,
    samples,
    machineMonths,
    kinds,
    calibration: calibration as Record<Outcome, Calibration>,
    aucByHorizon: aucByHorizon as Record<Outcome, (number | null)[]>,
    moreBlockages,
    modelsAlone: calibrate(
      moments.filter(({ hasSootSignal }) => !hasSootSignal),
      'any',
    ),
  };
}

/** The fleet's own moments and those of the machines that stick: harder to tell apart, since those that stick are not always blocked. */
function withSticking({ machines, days, seed }: ScorecardPlan, moments: readonly ScoredMoment[]) {
  const sticking = livesOfSticking({ machines, days, seed, startMs });
  const all = [...moments, ...sticking.moments];
  const byHorizon = horizonsH.map((withinH) => calibrate(all, 'blockage', withinH));
  return {
    machines: sticking.machines,
    seed: sticking.seed,
    came: byHorizon.map(({ came }) => came),
    auc: byHorizon.map(({ auc }) => auc),
  };
}

function scoreOf(kind: ScoredKind, tally: KindTally, machineMonths: number): KindScore {
  const { hits, misses, falseAlarms, findings, offS, examples } = tally;
  const required = hits + misses;
  return {
    kind,
    isMade: (findingKinds as readonly string[]).includes(kind),
    hits,
    misses,
    foundRatio: required === 0 ? null : hits / required,
    falseAlarms,
    falseAlarmsPerMachineMonth: falseAlarms / machineMonths,
    findings,
    meanOffS: offS.length === 0 ? null : offS.reduce((sum, off) => sum + off, 0) / offS.length,
    worstOffS: offS.length === 0 ? null : Math.max(...offS),
    examples,
  };
}
