export * from './recording.js';
export * from './reject-tally.js';
