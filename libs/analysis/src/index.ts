export { ratedExhaustFlowKgPerH } from './air-filter-detector.js';
export * from './analyzer.js';
export * from './analyzer-types.js';
export * from './comparison/batch-tracing.js';
export * from './comparison/change-point.js';
export * from './comparison/class-comparison.js';
export * from './comparison/work-figures.js';
export { type HoursLeft, hoursUntilUsed } from './def-forecast.js';
export * from './def-outlook.js';
export { type Detector, type DetectorConfig, type DetectorEvent, detectorConfig } from './detector.js';
export { wantedWarmupS } from './early-load-detector.js';
export { initialObserverState, type ObserverState, observe } from './engine-observer.js';
export * from './faults/built-in-schedules.js';
export * from './faults/derate-episode.js';
export * from './faults/derate-episodes.js';
export * from './faults/derate-inquiry.js';
export * from './faults/describe-fault.js';
export * from './faults/fault-episode.js';
export * from './faults/fault-log-settings.js';
export { type FaultLogState, foldedToMs, initialFaultLog, plausibleTimesMs } from './faults/fault-log-state.js';
export * from './faults/fold-faults.js';
export * from './faults/inducement-class.js';
export * from './faults/inducement-clock.js';
export * from './faults/inducement-findings.js';
export * from './faults/inducement-schedule.js';
export { type InquiryInput, inquireOrigin, maxCandidates } from './faults/inquire-origin.js';
export { maxRevisions, reviseInquiry } from './faults/inquiry-history.js';
export * from './faults/inquiry-windows.js';
export { type DerateLeaning, type KnownSpn, knownSpns, type SpnRole } from './faults/known-spns.js';
export * from './finding.js';
export {
  cleanRatio,
  type LoadOutlook,
  type No2Basis,
  no2Bases,
  type WayToLimit,
  waysToLimit,
} from './load-outlook.js';
export { type NoxBin, type NoxConversionState, noxBinsOf, noxConversionDetector } from './nox-conversion-detector.js';
export type { ObservedBlock } from './observed-block.js';
export * from './residency-row.js';
export { analysedChannels } from './sample-window.js';
export * from './scheduled-analyzer.js';
export { sensorName } from './sensor-names.js';
export * from './service/def-batch-life.js';
export * from './service/service-due.js';
export * from './service/service-findings.js';
export * from './shift/shift-report.js';
export { type SootBasis, sootBases } from './soot-outlook.js';
export * from './summary.js';
export * from './threshold-set.js';
export * from './timeline.js';
