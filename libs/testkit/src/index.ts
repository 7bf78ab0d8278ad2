export * from './arbitrary-recording.js';
export * from './memory-archive.js';
export * from './segments.js';
