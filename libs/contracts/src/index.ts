export * from './http.js';
export * from './replay-document.js';
