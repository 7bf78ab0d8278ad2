export { decodeChunk } from './chunk/decode-chunk.js';
export { encodeChunk } from './chunk/encode-chunk.js';
export * from './delivery-store.js';
export * from './embedded/data-folder.js';
export * from './embedded/start-embedded-postgres.js';
export * from './outbox-message.js';
export * from './postgres/open-store.js';
export * from './store.js';
