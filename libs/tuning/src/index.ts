export { type Bench, type BenchOptions, createBench, summaryThresholds } from './bench.js';
export * from './calibration/fit-weights.js';
export * from './calibration/isotonic.js';
export * from './calibration/reliability.js';
export { pressuresOf, type ScoredMoment } from './calibration/scored-moment.js';
export * from './compare-trials.js';
export * from './outcomes/bootstrap.js';
export * from './outcomes/judge.js';
export * from './outcomes/judging-rule.js';
export * from './outcomes/outcome-figures.js';
export type { RandomSource } from './outcomes/random.js';
export * from './outcomes/split-machines.js';
export type { TruthLabel } from './outcomes/truth-label.js';
export * from './promotion/promotion-time.js';
export * from './promotion/set-schedule.js';
export * from './search/choose-best.js';
export { brokenConstraints } from './search/constraints.js';
export { evolutionSeeker } from './search/evolution-seeker.js';
export * from './search/judged-unit.js';
export * from './search/run-search.js';
export * from './search/seekers.js';
export * from './search/sensitivity.js';
export * from './search/threshold-notes.js';
export { createSpace, type Point, type ThresholdAxis, type ThresholdSpace } from './search/threshold-space.js';
export * from './search/verdict.js';
export * from './sum-changes.js';
export type { ThresholdName } from './traced-thresholds.js';
export { createTrial, type Trial } from './trial.js';
export {
  type MachineTrial,
  type TrialFinding,
  type TrialMachine,
  type TrialSummary,
  usualStepMs,
} from './trial-types.js';
