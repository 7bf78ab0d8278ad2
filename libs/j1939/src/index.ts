export { type CanDecoder, type CanDecoderOptions, createCanDecoder } from './can-decoder.js';
export { type CanId, parseCanId } from './can-id.js';
export type { UnusableReason } from './channel-plan.js';
export { type DecodedFaults, decodeFaults } from './decode-faults.js';
export { type DecodedSignal, decodeSignals } from './decode-signals.js';
export { repeatFaultsMs } from './fault-log.js';
export { fmiTexts } from './fmi-texts.js';
export { type RawStatus, rawStatus, readBits } from './raw-status.js';
export { type Signal, signals } from './signal-table.js';
export {
  createTransportAssembler,
  maxAddressedPauseMs,
  maxBroadcastPauseMs,
  maxMessageBytes,
  maxOpenTransfers,
  type TransportAssembler,
  type TransportMessage,
} from './transport.js';
