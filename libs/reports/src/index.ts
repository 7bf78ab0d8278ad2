export { buildHandover } from './handover/build-handover.js';
export { gatherHandover, type HandoverAsk, type HandoverSource, handoverEndMs } from './handover/gather-handover.js';
export { groupCodes, windowMoments } from './handover/handover-codes.js';
export type { CodeNote, HandoverInput, InquiredDerate, ReadWindow } from './handover/handover-input.js';
export { type ClocksInput, inducementClocks } from './handover/inducement-clocks.js';
export { neutralLabel } from './handover/mask-texts.js';
export { type RenderedHandover, renderHandover } from './handover/render-handover.js';
export { windowSpan } from './handover/signal-window.js';
