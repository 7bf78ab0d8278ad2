export { type Bench, createBench } from './bench.js';
export * from './compare-trials.js';
export * from './sum-changes.js';
export { createTrial, type Trial } from './trial.js';
export {
  type MachineTrial,
  type TrialFinding,
  type TrialMachine,
  type TrialSummary,
  usualStepMs,
} from './trial-types.js';
