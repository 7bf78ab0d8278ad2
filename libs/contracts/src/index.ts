export * from './async-api.js';
export * from './comparison-document.js';
export { type DecodedFaults, decodeFaultMessage } from './decode-fault-message.js';
export type { DecodedFrames } from './decode-frames.js';
export {
  type DecodedMessage,
  type DecodedSamples,
  decodeSampleMessage,
  type ValueCounts,
} from './decode-sample-message.js';
export * from './handover-document.js';
export * from './http.js';
export * from './http-access.js';
export * from './http-alerts.js';
export * from './http-destinations.js';
export * from './http-faults.js';
export * from './http-outlook.js';
export * from './http-series.js';
export * from './http-service.js';
export * from './http-tuning.js';
export { makeRejectMessage, type RejectSource } from './make-reject-message.js';
export type { LeftOut, RejectedMessage } from './message-checks.js';
export { messageTimeMs } from './message-time.js';
export * from './replay-document.js';
export * from './sample-columns.js';
export * from './telemetry-http.js';
export { alertGroupKey, toAlertMessage } from './to-alert-message.js';
export * from './to-document.js';
export * from './to-fault-document.js';
export * from './topics.js';
