/** The bench: one machine's samples held ready, so that another threshold set is answered by the parts it touches. */

import {
  createAnalyzer,
  type DetectorConfig,
  type DetectorEvent,
  detectorConfig,
  detectors,
  findingId,
  initialObserverState,
  type ObservedBlock,
  observe,
  type ThresholdSet,
  type ThresholdValues,
} from '@warmbrick/analysis';
import type { SampleBlock } from '@warmbrick/signals';
import { cutAtSteps } from './cut-blocks.js';
import { createFindingLog, inOrder } from './finding-log.js';
import { keepBlock } from './kept-block.js';
import { holdsFor, type ThresholdName, type TracedAnswer, traceThresholds } from './traced-thresholds.js';
import {
  type MachineTrial,
  type TrialFinding,
  type TrialMachine,
  type TrialSummary,
  trialSummary,
  usualStepMs,
} from './trial-types.js';

export interface Bench {
  readonly machineId: string;
  readonly samples: number;
  /** Findings under a set, as a trial gives them. `ran` names the parts that had to run again. */
  findings(set: ThresholdSet): { readonly findings: TrialFinding[]; readonly ran: readonly string[] };
  /** Residency and score under a set; a whole analysis when a threshold moved that they hang on. */
  summary(set: ThresholdSet): TrialSummary | null;
  /** Both, as a trial gives them. */
  trial(set: ThresholdSet): MachineTrial;
}

/** Thresholds that residency and score go by; no other changes them. `tests/tuning/bench.test.ts` holds it. */
export const summaryThresholds: readonly ThresholdName[] = [
  'maxHoldS',
  'cooldownWantedS',
  'turbineTauS',
  'silentStopS',
  'hotMetalC',
];

/** Answers kept of each detector, the latest ones. Source: engineering judgement: a slider goes back and forth. */
const keptAnswers = 8;

interface Observation {
  readonly blocks: readonly ObservedBlock[];
  readonly stepEndMs: readonly number[];
}

interface Held {
  readonly machine: TrialMachine;
  readonly pieces: readonly SampleBlock[];
  readonly stepMs: number;
  observation: TracedAnswer<Observation> | null;
  readonly detected: Map<string, TracedAnswer<TrialFinding[]>[]>;
  summaries: TracedAnswer<TrialSummary | null>[];
}

/**
 * Holds one machine's samples ready. Blocks are kept, not copied: leave their arrays alone.
 *
 * `findings` and `summary` give what `createTrial` gives, to the byte: the observer and each detector run again only when a
 * threshold changed that they asked for (`traceThresholds`).
 * Range: memory of about 60 bytes a sample and 8 more for each further channel, beside the blocks; a machine-month at 1 Hz
 * with six channels takes some 160 MB. Keep longer times in several benches.
 */
export function createBench(machine: TrialMachine, blocks: readonly SampleBlock[], stepMs = usualStepMs): Bench {
  const pieces: SampleBlock[] = [];
  for (const block of blocks) cutAtSteps(block, stepMs, (piece) => pieces.push(piece));
  const samples = pieces.reduce((sum, piece) => sum + piece.timeMs.length, 0);
  const held: Held = { machine, pieces, stepMs, observation: null, detected: new Map(), summaries: [] };
  const { machineId } = machine;
  const findings = (set: ThresholdSet) => findingsOf(held, set);
  const summary = (set: ThresholdSet) => summaryOf(held, set);
  return {
    machineId,
    samples,
    findings,
    summary,
    trial: (set) => ({
      machineId,
      machineClass: machine.profile.machineClass,
      thresholdSet: set.version,
      samples,
      summary: summary(set),
      findings: findings(set).findings,
    }),
  };
}

function findingsOf(held: Held, set: ThresholdSet): { findings: TrialFinding[]; ran: readonly string[] } {
  const config = detectorConfig(held.machine.profile, set);
  const ran: string[] = [];
  const observation = observationOf(held, config, ran);
  const byId = new Map<string, TrialFinding>();
  for (const detector of detectors) {
    const answers = held.detected.get(detector.name) ?? [];
    let known = answers.find((answer) => holdsFor(answer, config.thresholds));
    if (known === undefined) {
      ran.push(detector.name);
      known = detect(held, config, { detector, observation });
    }
    held.detected.set(detector.name, [known, ...answers.filter((one) => one !== known)].slice(0, keptAnswers));
    for (const one of known.answer) byId.set(one.finding.id, lastSaid(byId.get(one.finding.id), one));
  }
  const findings = inOrder([...byId.values()]).map(({ finding, raisedMs }) => ({
    finding: { ...finding, thresholdSet: set.version },
    raisedMs,
  }));
  return { findings, ran };
}

/** Two detectors may say the same of the same moment; then the later saying stays, as it does live. */
function lastSaid(before: TrialFinding | undefined, now: TrialFinding): TrialFinding {
  if (before === undefined) return now;
  const { finding } = before.finding.emittedMs > now.finding.emittedMs ? before : now;
  return { finding, raisedMs: Math.min(before.raisedMs, now.raisedMs) };
}

/** What the observer saw; seen anew, everything behind it is forgotten. */
function observationOf(held: Held, config: DetectorConfig, ran: string[]): Observation {
  if (held.observation !== null && holdsFor(held.observation, config.thresholds)) return held.observation.answer;
  held.detected.clear();
  ran.push('observer');
  const { values, asked } = traceThresholds(config.thresholds);
  const traced = { ...config, thresholds: values };
  const blocks: ObservedBlock[] = [];
  const stepEndMs: number[] = [];
  let state = initialObserverState;
  for (const piece of held.pieces) {
    const seen = observe(traced, state, piece);
    state = seen.state;
    blocks.push(keepBlock(seen.observed));
    stepEndMs.push(endOfStep(piece, held.stepMs));
  }
  held.observation = { answer: { blocks, stepEndMs }, values: config.thresholds, asked };
  return held.observation.answer;
}

function detect(
  held: Held,
  config: DetectorConfig,
  what: { detector: (typeof detectors)[number]; observation: Observation },
): TracedAnswer<TrialFinding[]> {
  const { detector, observation } = what;
  const { values, asked } = traceThresholds(config.thresholds);
  const traced = { ...config, thresholds: values };
  const { machineId } = held.machine;
  const log = createFindingLog();
  let state = detector.initial();
  observation.blocks.forEach((block, k) => {
    const step = detector.step(traced, state, block);
    state = step.state;
    const current = detector.current(traced, state);
    const events = current === null ? step.events : [...step.events, current];
    if (events.length === 0) return;
    const emittedMs = lastOf((held.pieces[k] as SampleBlock).timeMs);
    const named = (event: DetectorEvent) => ({
      id: findingId(machineId, event.kind, event.startedMs),
      machineId,
      ...event,
      thresholdSet: config.thresholdSet,
      emittedMs,
    });
    log.add(events.map(named), observation.stepEndMs[k] as number);
  });
  return { answer: log.list(), values: config.thresholds, asked };
}

function summaryOf(held: Held, set: ThresholdSet): TrialSummary | null {
  const values: ThresholdValues = detectorConfig(held.machine.profile, set).thresholds;
  const known = held.summaries.find((answer) => holdsFor(answer, values));
  if (known !== undefined) return known.answer;
  const analyzer = createAnalyzer({ ...held.machine, thresholds: set });
  for (const piece of held.pieces) analyzer.push(piece);
  const traced = { answer: trialSummary(analyzer.summary()), values, asked: new Set(summaryThresholds) };
  held.summaries = [traced, ...held.summaries].slice(0, keptAnswers);
  return traced.answer;
}

function endOfStep(piece: SampleBlock, stepMs: number): number {
  return (Math.floor(lastOf(piece.timeMs) / stepMs) + 1) * stepMs;
}

function lastOf(timeMs: Float64Array): number {
  return timeMs[timeMs.length - 1] as number;
}
