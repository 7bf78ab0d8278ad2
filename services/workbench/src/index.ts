export { type ReplayInput, type ReplayOutcome, replayRecordings } from './replay-recordings.js';
export { runCommand } from './run-command.js';
