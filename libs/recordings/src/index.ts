export { detectFormat } from './detect-format.js';
export { type FaultWriter, openFaultWriter } from './open-fault-writer.js';
export { openWriter, type RecordingWriter, type WriteFormat, type WriteOptions } from './open-writer.js';
export { parseTime } from './parse-time.js';
export { readInOrder } from './read-in-order.js';
export { readUnordered } from './read-unordered.js';
export * from './recording.js';
export { DamagedRecordingError } from './recording-errors.js';
export * from './reject-tally.js';
