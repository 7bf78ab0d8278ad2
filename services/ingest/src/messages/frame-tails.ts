/** Transfers that a message breaks off: their frames are kept and read again in front of the machine's next message. */

import type { DecodedFrames } from '@warmbrick/contracts';

interface JoinedFrames {
  readonly message: DecodedFrames;
  /** Whether a transfer goes on in the next message. */
  readonly isBrokenOff: boolean;
}

export interface FrameTails {
  /** The message with what the one before it broke off; keeps what it breaks off itself. Messages come in order. */
  joined(message: DecodedFrames): JoinedFrames;
}

/** Machines' buses with something broken off; past it the oldest is forgotten. Source: engineering judgement. */
const mostTails = 10_000;
/** Longest pause inside a transfer, ms: T2 and T3; longer ones are lost anyway. Source: SAE J1939-21, as in libs/j1939. */
const longestPauseMs = 1250;
/** Bytes reserved for each frame in the message's columns. Source: `DecodedFrames`. */
const frameBytes = 8;
/** Second byte of the identifiers of connection management and of data packets. Source: SAE J1939-21. */
const [connectionFormat, packetFormat] = [0xec, 0xeb];
/** First bytes of connection management frames. Source: SAE J1939-21. */
const [requestToSend, broadcast, abort] = [16, 32, 255];

/**
 * Makes an empty set of tails. A transfer that lies in two messages gives what it would in one.
 *
 * Range: what is held goes with whoever holds it: after a restart, a transfer under way then is lost, as on a bus that was
 * listened to from then on; fault lists come again every second (SAE J1939-73, DM1).
 */
export function createFrameTails(): FrameTails {
  const tails = new Map<string, DecodedFrames>();
  return {
    joined(message) {
      const key = `${message.bus}\n${message.machineId}`;
      const tail = tails.get(key);
      tails.delete(key);
      const whole = tail === undefined ? message : chained(tail, message);
      const open = openFrames(whole);
      if (open.length > 0) tails.set(key, picked(whole, open));
      if (tails.size > mostTails) tails.delete(tails.keys().next().value as string);
      return { message: whole, isBrokenOff: open.length > 0 };
    },
  };
}

interface OpenTransfer {
  readonly packets: number;
  readonly received: Set<number>;
  readonly frames: number[];
}

/** Places of the frames of transfers that are not complete, in order. */
function openFrames({ timeMs, ids, bytes }: DecodedFrames): number[] {
  const open = new Map<number, OpenTransfer>();
  for (let i = 0; i < ids.length; i++) {
    const format = ((ids[i] as number) >>> 16) & 0xff;
    if (format !== connectionFormat && format !== packetFormat) continue;
    // Source and destination.
    const pair = (ids[i] as number) & 0xffff;
    const first = bytes[i * frameBytes] as number;
    if (format === connectionFormat) {
      if (first === abort) open.delete(pair);
      if (first !== broadcast && first !== requestToSend) continue;
      open.set(pair, { packets: bytes[i * frameBytes + 3] as number, received: new Set(), frames: [i] });
      continue;
    }
    const transfer = open.get(pair);
    if (transfer === undefined) continue;
    transfer.frames.push(i);
    transfer.received.add(first);
    if (transfer.received.size >= transfer.packets) open.delete(pair);
  }
  const endMs = timeMs.at(-1) ?? 0;
  const isAlive = ({ frames }: OpenTransfer) => endMs - (timeMs[frames.at(-1) as number] as number) <= longestPauseMs;
  return [...open.values()]
    .filter(isAlive)
    .flatMap(({ frames }) => frames)
    .sort((a, b) => a - b);
}

function picked(message: DecodedFrames, places: readonly number[]): DecodedFrames {
  const bytes = new Uint8Array(places.length * frameBytes);
  for (const [to, from] of places.entries()) {
    bytes.set(message.bytes.subarray(from * frameBytes, (from + 1) * frameBytes), to * frameBytes);
  }
  return {
    ...message,
    timeMs: Float64Array.from(places, (i) => message.timeMs[i] as number),
    ids: Uint32Array.from(places, (i) => message.ids[i] as number),
    bytes,
    lengths: Uint8Array.from(places, (i) => message.lengths[i] as number),
    unusable: 0,
    leftOut: [],
  };
}

function chained(tail: DecodedFrames, message: DecodedFrames): DecodedFrames {
  const at = tail.ids.length;
  const length = at + message.ids.length;
  const timeMs = new Float64Array(length);
  const ids = new Uint32Array(length);
  const bytes = new Uint8Array(length * frameBytes);
  const lengths = new Uint8Array(length);
  for (const [from, place] of [
    [tail, 0],
    [message, at],
  ] as const) {
    timeMs.set(from.timeMs, place);
    ids.set(from.ids, place);
    bytes.set(from.bytes, place * frameBytes);
    lengths.set(from.lengths, place);
  }
  return { ...message, timeMs, ids, bytes, lengths };
}
