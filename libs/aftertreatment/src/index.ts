export * from './soot-oxidation.js';
export * from './turbine-out-temperature.js';
