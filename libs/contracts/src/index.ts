export * from './http.js';
export * from './replay-document.js';
export * from './to-document.js';
