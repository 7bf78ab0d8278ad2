export type { AccessOptions } from './access/access.js';
export { prepareDoor } from './access/admin-key.js';
export type { TokenOptions } from './access/bearer-tokens.js';
export type { AppDeps, AppLimits } from './app-deps.js';
export * from './build-app.js';
export * from './describe-api.js';
export * from './events/event-hub.js';
