export { letHeapGrow } from './replay/let-heap-grow.js';
export { replayOnThreads } from './replay/replay-on-threads.js';
export { type ReplayInput, type ReplayOutcome, replayRecordings } from './replay-recordings.js';
export { runCommand } from './run-command.js';
