export * from './alert.js';
