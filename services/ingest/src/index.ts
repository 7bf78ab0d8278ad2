export * from './create-ingest.js';
export type { AcceptOptions, Ingest, IngestLimits, IngestLogger, IngestOptions, IngestStats } from './ingest-types.js';
