export * from './channels.js';
export * from './fault-report.js';
export * from './machine-profile.js';
export * from './merge-blocks.js';
export * from './quantise.js';
export * from './sample-block.js';
export * from './service-intervals.js';
export * from './setting.js';
