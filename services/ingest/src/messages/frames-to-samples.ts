/** CAN frames of one message -> samples and fault reports. */

import type { DecodedFrames } from '@warmbrick/contracts';
import { createCanDecoder } from '@warmbrick/j1939';
import type { FaultReport, SampleBlock } from '@warmbrick/signals';
import type { FrameTails } from './frame-tails.js';

/** Bytes reserved for each frame in the message's columns. Source: `DecodedFrames`. */
const frameBytes = 8;

/**
 * Decodes the frames of one message: what a channel was before is not known, so the same message gives the same samples
 * whenever and however often it comes. Only a transfer that it breaks off goes on in the machine's next message.
 *
 * Errors: none.
 */
export function framesToSamples(
  message: DecodedFrames,
  tails: FrameTails,
): { block: SampleBlock | null; reports: FaultReport[]; isBrokenOff: boolean } {
  const joined = tails.joined(message);
  const { machineId, bus, timeMs, ids, bytes, lengths } = joined.message;
  const decoder = createCanDecoder({ machineId });
  const order = Array.from(timeMs.keys()).sort((a, b) => (timeMs[a] as number) - (timeMs[b] as number) || a - b);
  for (const i of order) {
    const frame = bytes.subarray(i * frameBytes, (i + 1) * frameBytes);
    decoder.push(timeMs[i] as number, bus, ids[i] as number, frame, lengths[i] as number);
  }
  decoder.finish();
  return { block: decoder.takeBlock(), reports: decoder.takeFaults(), isBrokenOff: joined.isBrokenOff };
}
