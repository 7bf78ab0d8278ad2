export type { AppDeps, AppLimits } from './app-deps.js';
export * from './build-app.js';
export * from './events/event-hub.js';
