export { type Bench, createBench } from './bench.js';
export * from './compare-trials.js';
export * from './outcomes/bootstrap.js';
export * from './outcomes/judge.js';
export * from './outcomes/judging-rule.js';
export * from './outcomes/outcome-figures.js';
export type { RandomSource } from './outcomes/random.js';
export * from './outcomes/split-machines.js';
export type { TruthLabel } from './outcomes/truth-label.js';
export * from './sum-changes.js';
export { createTrial, type Trial } from './trial.js';
export {
  type MachineTrial,
  type TrialFinding,
  type TrialMachine,
  type TrialSummary,
  usualStepMs,
} from './trial-types.js';
