/** CAN frames of one message -> samples and fault reports. */

import type { DecodedFrames } from '@warmbrick/contracts';
import { createCanDecoder } from '@warmbrick/j1939';
import type { FaultReport, SampleBlock } from '@warmbrick/signals';

/** Bytes reserved for each frame in the message's columns. Source: `DecodedFrames`. */
const frameBytes = 8;

/**
 * Decodes the frames of one message by themselves: what a channel was before is not known, and a transfer that goes on in
 * the next message is lost. So the same message gives the same samples whenever and however often it comes.
 *
 * Errors: none.
 */
export function framesToSamples(message: DecodedFrames): { block: SampleBlock | null; reports: FaultReport[] } {
  const { machineId, bus, timeMs, ids, bytes, lengths } = message;
  const decoder = createCanDecoder({ machineId });
  const order = Array.from(timeMs.keys()).sort((a, b) => (timeMs[a] as number) - (timeMs[b] as number) || a - b);
  for (const i of order) {
    const frame = bytes.subarray(i * frameBytes, (i + 1) * frameBytes);
    decoder.push(timeMs[i] as number, bus, ids[i] as number, frame, lengths[i] as number);
  }
  decoder.finish();
  return { block: decoder.takeBlock(), reports: decoder.takeFaults() };
}
