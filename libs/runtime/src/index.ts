export type { ConfigSources } from './config-sources.js';
export * from './create-logger.js';
export * from './create-metrics.js';
export * from './error-catalogue.js';
export * from './load-config.js';
export * from './nearest-name.js';
export * from './operating-error.js';
export * from './retrying.js';
