/** One machine's life: simulated, analysed, and lived on to see what the score foretold. */

import { builtInThresholds, createAnalyzer, type Finding } from '@warmbrick/analysis';
import { machineProfileSchema, type SampleBlock } from '@warmbrick/signals';
import { createSimulation, type SimulatedMachine, type TruthEvent } from '@warmbrick/simulator';
import { longestHorizonH, type ScoredMoment } from './calibration.js';
import { type Claim, claimsOf } from './claims.js';
import { type Coverage, coverageOf } from './coverage.js';

export interface LifePlan {
  readonly startMs: number;
  readonly days: number;
  readonly seed: number;
  /** Whether to live on past the days, for the calibration. */
  readonly hasOutlook: boolean;
}

export interface Life {
  readonly machineId: string;
  readonly claims: readonly Claim[];
  readonly findings: readonly Finding[];
  readonly coverage: Coverage;
  readonly moments: readonly ScoredMoment[];
  readonly samples: number;
}

const hourMs = 3_600_000;
/** The analysis gets its blocks in pieces of this length; the score is taken every second one. */
const pieceMs = 6 * hourMs;
/** What a score is held against at most. */
const outlookRunningS = longestHorizonH * 3600;
/** Days lived on at most to see them. */
const longestOutlookDays = 9;
/** Causes of a derate that soot and deposits answer for. */
const sootCauses = ['soot', 'blockage', 'conversion'];

/** Lives through the days. Deterministic. */
export function liveMachine(machine: SimulatedMachine, plan: LifePlan): Life {
  const { startMs, days, seed } = plan;
  const endMs = startMs + days * 24 * hourMs - 1000;
  const simulation = createSimulation(machine, { seed, startMs });
  const profile = machineProfileSchema.parse(machine.profile);
  const analyzer = createAnalyzer({ machineId: machine.machineId, profile, thresholds: builtInThresholds });
  const findings = new Map<string, Finding>();
  const blocks: SampleBlock[] = [];
  const scores: { atMs: number; score: number }[] = [];
  let isSecond = false;
  for (let atMs = startMs - 1000; atMs < endMs; ) {
    atMs = Math.min(endMs, atMs + pieceMs);
    const block = simulation.advanceTo(atMs);
    if (block !== null) {
      blocks.push(block);
      for (const finding of analyzer.push(block).findings) findings.set(finding.id, finding);
    }
    const score = analyzer.summary()?.score ?? null;
    if (isSecond && score !== null) scores.push({ atMs, score: score.value });
    isSecond = !isSecond;
  }
  const coverage = coverageOf(blocks, machine.gateway?.samplePeriodS ?? 1);
  const truth = [...simulation.truth, ...simulation.ongoing()];
  const claims = claimsOf({ machine, blocks, coverage, truth, startMs, endMs });
  const samples = blocks.reduce((sum, block) => sum + block.timeMs.length, 0);
  const moments = plan.hasOutlook
    ? outlook(simulation, { scores, endMs, hasSootSignal: machine.channels.includes('dpfSootPct') })
    : [];
  return { machineId: machine.machineId, claims, findings: [...findings.values()], coverage, moments, samples };
}

function outlook(
  simulation: ReturnType<typeof createSimulation>,
  from: { scores: readonly { atMs: number; score: number }[]; endMs: number; hasSootSignal: boolean },
): ScoredMoment[] {
  const { scores, endMs, hasSootSignal } = from;
  const lastScoreMs = scores.at(-1)?.atMs ?? endMs;
  for (let day = 1; day <= longestOutlookDays; day++) {
    simulation.advanceTo(endMs + day * 24 * hourMs);
    if (runningS(all(simulation), lastScoreMs, Number.POSITIVE_INFINITY) >= outlookRunningS) break;
  }
  const truth = all(simulation);
  return scores.map(({ atMs, score }) => {
    const hours = (isOne: (event: TruthEvent) => boolean): number | null => {
      const ahead = truth
        .filter((event) => isOne(event) && event.endedMs > atMs)
        .map((event) => runningS(truth, atMs, Math.max(atMs, event.startedMs)) / 3600);
      return ahead.length === 0 ? null : Math.min(...ahead);
    };
    const regeneration = hours(({ kind }) => kind === 'regeneration' || kind === 'regeneration-wait');
    const blockage = hours(({ kind }) => kind === 'blockage');
    const derate = hours((event) => event.kind === 'derate' && sootCauses.includes(event.cause));
    const known = [regeneration, blockage, derate].filter((one) => one !== null);
    return {
      score,
      hasSootSignal,
      hoursUntil: { regeneration, blockage, derate, any: known.length === 0 ? null : Math.min(...known) },
      livedH: runningS(truth, atMs, Number.POSITIVE_INFINITY) / 3600,
    };
  });
}

function all(simulation: ReturnType<typeof createSimulation>): TruthEvent[] {
  return [...simulation.truth, ...simulation.ongoing()];
}

/** Engine running within a time, by the truth, s. */
function runningS(truth: readonly TruthEvent[], fromMs: number, toMs: number): number {
  return truth.reduce((sum, event) => {
    if (event.kind !== 'engine-run') return sum;
    return sum + Math.max(0, Math.min(event.endedMs, toMs) - Math.max(event.startedMs, fromMs)) / 1000;
  }, 0);
}
