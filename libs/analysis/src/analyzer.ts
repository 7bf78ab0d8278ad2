/** The analyzer puts observer, detectors, residency and score of one machine together. */

import type { SampleBlock } from '@warmbrick/signals';
import { exhaustSourceOrder } from '@warmbrick/signals';
import type { AnalysisResult, Analyzer, AnalyzerOptions, AnalyzerSnapshot } from './analyzer-types.js';
import { coldDwellDetector } from './cold-dwell-detector.js';
import { dataGapDetector } from './data-gap-detector.js';
import { type DefLedgerState, defLedgerDetector } from './def-ledger-detector.js';
import { defOutlookOf } from './def-outlook.js';
import { type DepositWatchState, foldDepositWatch, initialDepositWatch } from './deposit-watch.js';
import { type Detector, type DetectorConfig, type DetectorEvent, detectorConfig } from './detector.js';
import { earlyLoadDetector } from './early-load-detector.js';
import { initialObserverState, type ObserverState, observe } from './engine-observer.js';
import { type EngineRunState, engineRunDetector } from './engine-run-detector.js';
import { inSeconds, rounded } from './figures.js';
import { type Finding, findingId } from './finding.js';
import { furtherDetectors, sensorDetectors } from './further-detectors.js';
import { hotShutdownDetector } from './hot-shutdown-detector.js';
import { type IdleStreakState, idleStreakDetector } from './idle-streak-detector.js';
import { loadOutlook } from './load-outlook.js';
import { type NoxBin, type NoxConversionState, noxBinsOf, noxConversionDetector } from './nox-conversion-detector.js';
import { firstRunningMode } from './observed-block.js';
import { foldResidency } from './residency.js';
import { initialResidency, type ResidencyState, residencyTotals } from './residency-state.js';
import { riskScore } from './risk-score.js';
import { foldSootLoad, initialSootLoad, type SootLoadState } from './soot-load.js';
import { foldSootPace, initialSootPace, type SootPaceState } from './soot-pace.js';
import { foldSootRisk, initialSootRisk, type SootRiskState } from './soot-risk.js';
import { type MachineSummary, operatingModes } from './summary.js';
import { type Suspicion, type SuspicionChange, silencesOf } from './suspicion.js';

/** Every detector, in the order in which it is asked. */
export const detectors: readonly Detector<unknown>[] = [
  engineRunDetector,
  idleStreakDetector,
  coldDwellDetector,
  hotShutdownDetector,
  earlyLoadDetector,
  dataGapDetector,
  ...furtherDetectors,
] as readonly Detector<unknown>[];

/** Raised whenever a snapshot of before can no longer be continued. */
const snapshotVersion = 9;

interface States {
  observer: ObserverState;
  residency: ResidencyState;
  soot: SootLoadState;
  deposits: DepositWatchState;
  pace: SootPaceState;
  risk: SootRiskState;
  detectors: Record<string, unknown>;
  hotShutdowns: number;
}

/**
 * Creates the analyzer of one machine.
 *
 * Errors: throws when a snapshot is of another version or another machine (the caller then starts from the archive).
 */
export function createAnalyzer(options: AnalyzerOptions): Analyzer {
  const { machineId, profile, thresholds } = options;
  const config = detectorConfig(profile, thresholds);
  let states = options.snapshot === undefined ? initialStates() : restored(options.snapshot, machineId);
  return {
    machineId,
    push(block) {
      if (block.timeMs.length === 0) return { findings: [], rows: [] };
      assertLater(states.observer, block);
      const { result, next } = analyse(config, machineId, { states, block });
      states = next;
      return result;
    },
    summary: () => summaryOf(config, machineId, states),
    snapshot: () => ({
      version: snapshotVersion,
      machineId,
      thresholdSet: config.thresholdSet,
      states: { ...states },
    }),
  };
}

function analyse(
  config: DetectorConfig,
  machineId: string,
  input: { states: States; block: SampleBlock },
): { result: AnalysisResult; next: States } {
  const { states } = input;
  const sensed = new Map<string, { state: unknown; events: DetectorEvent[] }>();
  const { state: observer, observed } = observe(config, states.observer, input.block, (sent) => {
    const changes: SuspicionChange[] = [];
    for (const detector of sensorDetectors) {
      const step = detector.step(config, states.detectors[detector.name], sent);
      sensed.set(detector.name, step);
      changes.push(...step.changes);
    }
    return silencesOf(suspicionsOf(states), changes);
  });
  const events: DetectorEvent[] = [];
  const detectorStates: Record<string, unknown> = {};
  for (const detector of detectors) {
    const step = sensed.get(detector.name) ?? detector.step(config, states.detectors[detector.name], observed);
    detectorStates[detector.name] = step.state;
    events.push(...step.events);
    const current = detector.current(config, step.state);
    if (current !== null) events.push(current);
  }
  const { state: residency, rows } = foldResidency(config, states.residency, observed);
  const soot = foldSootLoad(config, states.soot, observed);
  const deposits = foldDepositWatch(config, states.deposits, observed);
  const pace = foldSootPace(states.pace, observed);
  const risk = foldSootRisk(config, states.risk, observed);
  const emittedMs = input.block.timeMs[input.block.timeMs.length - 1] as number;
  const named = (event: DetectorEvent): Finding => ({
    id: findingId(machineId, event.kind, event.startedMs),
    machineId,
    ...event,
    thresholdSet: config.thresholdSet,
    emittedMs,
  });
  const hotShutdowns = states.hotShutdowns + events.filter((event) => event.kind === 'hot-shutdown').length;
  return {
    result: { findings: events.map(named), rows },
    next: { observer, residency, soot, deposits, pace, risk, detectors: detectorStates, hotShutdowns },
  };
}

function suspicionsOf(states: States): Suspicion[] {
  return sensorDetectors.flatMap((detector) => detector.suspicions(states.detectors[detector.name]));
}

function initialStates(): States {
  return {
    observer: initialObserverState,
    residency: initialResidency,
    soot: initialSootLoad(),
    deposits: initialDepositWatch,
    pace: initialSootPace,
    risk: initialSootRisk,
    detectors: Object.fromEntries(detectors.map((detector) => [detector.name, detector.initial()])),
    hotShutdowns: 0,
  };
}

function restored(snapshot: AnalyzerSnapshot, machineId: string): States {
  if (snapshot.version !== snapshotVersion || snapshot.machineId !== machineId) {
    throw new Error(`snapshot of version ${snapshot.version} for ${snapshot.machineId} does not fit ${machineId}`);
  }
  return snapshot.states as unknown as States;
}

function assertLater(observer: ObserverState, block: SampleBlock): void {
  const first = block.timeMs[0] as number;
  if (observer.last !== null && first <= observer.last.timeMs) {
    throw new Error(`block of ${block.machineId} starts at ${first}, not after ${observer.last.timeMs}`);
  }
}

function summaryOf(config: DetectorConfig, machineId: string, states: States): MachineSummary | null {
  const { residency, observer } = states;
  if (residency.fromMs === null) return null;
  const totals = residencyTotals(residency);
  const spanS = inSeconds(residency.toMs - residency.fromMs);
  const coverageRatio = spanS > 0 ? rounded(1 - totals.unobservedS / spanS, 4) : 1;
  const streak = states.detectors[idleStreakDetector.name] as IdleStreakState;
  const run = states.detectors[engineRunDetector.name] as EngineRunState;
  const loadKnownS = inSeconds(residency.loadKnownMs);
  const outlook = loadOutlook(config, states);
  const suspectChannels = [...new Set(suspicionsOf(states).map(({ channel }) => channel))].sort();
  return {
    machineId,
    observed: { fromMs: residency.fromMs, toMs: residency.toMs, coverageRatio },
    mode: modeNow(config, observer),
    residency: totals,
    histogramS: residency.histogramMs.map(inSeconds),
    exhaustSourceS: Object.fromEntries(
      exhaustSourceOrder
        .map((name, k) => [name, inSeconds(residency.sourceMs[k] as number)])
        .filter(([, s]) => s !== 0),
    ),
    longestIdleS: inSeconds(streak.longestMs),
    runs: run.runs,
    hotShutdowns: states.hotShutdowns,
    load: totals.runningS > 0 ? outlook : null,
    score: riskScore(config, states, { residency: totals, coverageRatio, loadKnownS, outlook, suspectChannels }),
    suspectChannels,
    def: defOutlookOf(config, states.detectors[defLedgerDetector.name] as DefLedgerState),
    noxBins: knownBins(noxBinsOf(states.detectors[noxConversionDetector.name] as NoxConversionState)),
  };
}

function knownBins(bins: readonly NoxBin[]): readonly NoxBin[] {
  return bins.some(({ conversionRatio }) => conversionRatio !== null) ? bins : [];
}

function modeNow(config: DetectorConfig, observer: ObserverState): MachineSummary['mode'] {
  const isFresh = observer.last !== null && observer.last.timeMs === observer.usableMs;
  if (!isFresh) return 'unobserved';
  const name = operatingModes[observer.usableMode] ?? 'unobserved';
  const { cooldownMs } = observer;
  const isCooling = name === 'idle' && cooldownMs !== null && cooldownMs < config.thresholds.cooldownWantedS * 1000;
  return observer.usableMode >= firstRunningMode && isCooling ? 'cooling-down' : name;
}
