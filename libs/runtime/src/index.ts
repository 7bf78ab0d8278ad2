export * from './operating-error.js';
