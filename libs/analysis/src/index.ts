export * from './analyzer-types.js';
export * from './finding.js';
export * from './residency-row.js';
export * from './summary.js';
export * from './threshold-set.js';
