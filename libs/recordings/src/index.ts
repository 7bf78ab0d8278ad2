export { detectFormat } from './detect-format.js';
export { readInOrder } from './read-in-order.js';
export { readUnordered } from './read-unordered.js';
export * from './recording.js';
export { DamagedRecordingError } from './recording-errors.js';
export * from './reject-tally.js';
