export * from './embedded/data-folder.js';
export * from './embedded/start-embedded-postgres.js';
export * from './store.js';
