export { type AllInOneConfig, explainAllInOneConfig, readConfig } from './config.js';
export { type LiveFleetOptions, runLiveFleet } from './live-fleet.js';
export { loadReplays, type ReplayLoad, type ReplayOutcome } from './load-replays.js';
export { type Running, type StartOptions, startAll } from './start-all.js';
