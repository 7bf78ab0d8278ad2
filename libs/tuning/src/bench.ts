/** The bench: one machine's samples held ready, so that another threshold set is answered by the parts it touches. */

import {
  createAnalyzer,
  type DetectorConfig,
  type DetectorEvent,
  detectorConfig,
  detectors,
  type FindingKind,
  findingId,
  initialObserverState,
  type ObservedBlock,
  observe,
  type ThresholdSet,
  type ThresholdValues,
} from '@warmbrick/analysis';
import type { SampleBlock } from '@warmbrick/signals';
import { cutAtSteps } from './cut-blocks.js';
import { makesKinds } from './detector-kinds.js';
import { createFindingLog, type FindingLog, inOrder } from './finding-log.js';
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

export interface BenchOptions {
  readonly stepMs?: number;
  /** Only findings of these kinds are wanted; detectors of other kinds do not run. Default: all. */
  readonly kinds?: ReadonlySet<FindingKind>;
  /**
   * True: what the observer saw is kept only once it is asked for again; better where its own thresholds move each time, as
   * in a search. Default false: what it sees first is kept at once, so that the next answer is quick.
   */
  readonly isSparing?: boolean;
}

/** null: seen, but not kept. */
type Observation = readonly ObservedBlock[] | null;

interface Held {
  readonly machine: TrialMachine;
  readonly pieces: readonly SampleBlock[];
  readonly stepMs: number;
  readonly kinds: ReadonlySet<FindingKind> | null;
  readonly isSparing: boolean;
  observation: TracedAnswer<Observation> | null;
  /** How often the observer has run. */
  observations: number;
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
export function createBench(
  machine: TrialMachine,
  blocks: readonly SampleBlock[],
  { stepMs = usualStepMs, kinds, isSparing = false }: BenchOptions = {},
): Bench {
  const pieces: SampleBlock[] = [];
  for (const block of blocks) cutAtSteps(block, stepMs, (piece) => pieces.push(piece));
  const samples = pieces.reduce((sum, piece) => sum + piece.timeMs.length, 0);
  const held: Held = {
    machine,
    pieces,
    stepMs,
    kinds: kinds ?? null,
    isSparing,
    observation: null,
    observations: 0,
    detected: new Map(),
    summaries: [],
  };
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
      profile: machine.profile,
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
  if (held.observation === null || !holdsFor(held.observation, config.thresholds)) {
    held.detected.clear();
    held.observation = null;
  }
  const wanted = detectors.filter((detector) => makesKinds(detector.name, held.kinds));
  const known = new Map(wanted.map((detector) => [detector, knownAnswer(held, detector, config.thresholds)]));
  const missing = wanted.filter((detector) => known.get(detector) === undefined);
  if (held.observation === null) ran.push('observer');
  if (missing.length > 0 || held.observation === null) {
    ran.push(...missing.map(({ name }) => name));
    const answers = detect(held, config, missing);
    for (const [k, detector] of missing.entries()) known.set(detector, answers[k]);
  }
  const byId = new Map<string, TrialFinding>();
  for (const [detector, answer] of known) {
    remember(held, detector, answer as TracedAnswer<TrialFinding[]>);
    for (const one of answer?.answer ?? []) {
      if (held.kinds?.has(one.finding.kind) === false) continue;
      byId.set(one.finding.id, lastSaid(byId.get(one.finding.id), one));
    }
  }
  const findings = inOrder([...byId.values()]).map(({ finding, raisedMs }) => ({
    finding: { ...finding, thresholdSet: set.version },
    raisedMs,
  }));
  return { findings, ran };
}

function knownAnswer(held: Held, detector: AnyDetector, values: ThresholdValues) {
  return held.detected.get(detector.name)?.find((answer) => holdsFor(answer, values));
}

function remember(held: Held, { name }: AnyDetector, answer: TracedAnswer<TrialFinding[]>): void {
  const others = (held.detected.get(name) ?? []).filter((one) => one !== answer);
  held.detected.set(name, [answer, ...others].slice(0, keptAnswers));
}

/** Two detectors may say the same of the same moment; then the later saying stays, as it does live. */
function lastSaid(before: TrialFinding | undefined, now: TrialFinding): TrialFinding {
  if (before === undefined) return now;
  const { finding } = before.finding.emittedMs > now.finding.emittedMs ? before : now;
  return { finding, raisedMs: Math.min(before.raisedMs, now.raisedMs) };
}

/** Runs some detectors over everything, behind the observer or over what it saw before. */
function detect(held: Held, config: DetectorConfig, missing: readonly AnyDetector[]): TracedAnswer<TrialFinding[]>[] {
  const runs = missing.map((detector) => startRun(detector, config));
  const before = held.observation;
  const kept = before?.answer ?? null;
  if (kept !== null) {
    for (const [k, block] of kept.entries()) step(held, runs, { block, piece: held.pieces[k] as SampleBlock });
  } else {
    // A threshold of the observer that moves once tends to move again: then nothing is kept until it rests.
    const isKept = before !== null || (!held.isSparing && held.observations === 0);
    held.observations++;
    const { values, asked } = traceThresholds(config.thresholds);
    const traced = { ...config, thresholds: values };
    const blocks: ObservedBlock[] = [];
    let state = initialObserverState;
    for (const piece of held.pieces) {
      const seen = observe(traced, state, piece);
      state = seen.state;
      if (isKept) blocks.push(keepBlock(seen.observed));
      step(held, runs, { block: seen.observed, piece });
    }
    held.observation = { answer: isKept ? blocks : null, values: config.thresholds, asked };
  }
  return runs.map(({ log, asked }) => ({ answer: log.list(), values: config.thresholds, asked }));
}

type AnyDetector = (typeof detectors)[number];

/** A detector on its way through the blocks, with what it asked for. */
interface DetectorRun {
  readonly detector: AnyDetector;
  readonly config: DetectorConfig;
  readonly asked: ReadonlySet<ThresholdName>;
  readonly log: FindingLog;
  state: unknown;
}

function startRun(detector: AnyDetector, config: DetectorConfig): DetectorRun {
  const { values, asked } = traceThresholds(config.thresholds);
  const traced = { ...config, thresholds: values };
  return { detector, config: traced, asked, log: createFindingLog(), state: detector.initial() };
}

function step(
  held: Held,
  runs: readonly DetectorRun[],
  { block, piece }: { readonly block: ObservedBlock; readonly piece: SampleBlock },
): void {
  const { machineId } = held.machine;
  const emittedMs = piece.timeMs[piece.timeMs.length - 1] as number;
  const stepEndMs = (Math.floor(emittedMs / held.stepMs) + 1) * held.stepMs;
  for (const run of runs) {
    const { detector, config } = run;
    const stepped = detector.step(config, run.state, block);
    run.state = stepped.state;
    const current = detector.current(config, run.state);
    const events = current === null ? stepped.events : [...stepped.events, current];
    if (events.length === 0) continue;
    const named = (event: DetectorEvent) => ({
      id: findingId(machineId, event.kind, event.startedMs),
      machineId,
      ...event,
      thresholdSet: config.thresholdSet,
      emittedMs,
    });
    run.log.add(events.map(named), stepEndMs);
  }
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
