export * from './create-logger.js';
export * from './operating-error.js';
