/** Raw CAN frames of a message, as columns. */

import { judgeTime, type LeftOut, listLeftOut, type RejectedMessage, reject, rejectTooMany } from './message-checks.js';
import { messageTimeMs } from './message-time.js';
import { messageLimits } from './topics.js';

export interface DecodedFrames {
  readonly form: 'frames';
  readonly machineId: string;
  readonly bus: string;
  /** In the order of the message. */
  readonly timeMs: Float64Array;
  /** 29-bit identifiers. */
  readonly ids: Uint32Array;
  /** Eight bytes a frame, of which `lengths` say how many count. */
  readonly bytes: Uint8Array;
  readonly lengths: Uint8Array;
  /** Frames without a usable identifier or payload. */
  readonly unusable: number;
  readonly leftOut: readonly LeftOut[];
}

/** Bytes of a classic CAN frame at most. Source: ISO 11898-1; SAE J1939-21 uses no longer ones. */
const frameBytes = 8;
/** Source: ISO 11898-1, extended format. */
const largestId = 0x1fffffff;
/** Name of a bus that the message does not name. */
const usualBus = 'can0';
const longestBusName = 40;
const hexId = /^(0[xX])?[0-9A-Fa-f]{1,8}$/;

/**
 * Reads the frames of a message that is an object with `frames` and arrived at `arrivalMs`.
 *
 * Errors: none; a reject when no frame is usable.
 */
export function decodeFrames(
  machineId: string,
  fields: Readonly<Record<string, unknown>>,
  arrivalMs: number,
): DecodedFrames | RejectedMessage {
  const { frames, bus = usualBus } = fields;
  if (!Array.isArray(frames) || frames.length === 0) return reject('bad-shape', 'frames: expected an array of frames');
  if (typeof bus !== 'string' || bus.length > longestBusName) return reject('bad-shape', 'bus: expected a short text');
  if (frames.length > messageLimits.frames) return rejectTooMany(frames.length, 'frames', messageLimits.frames);
  const read = readFrames(frames, arrivalMs);
  const { count, unusable, leftOut } = read;
  if (count === 0) {
    const reason = unusable > 0 ? 'bad-shape' : (leftOut[0]?.reason ?? 'bad-shape');
    return reject(reason, 'frames: none of them has a usable time, identifier and data');
  }
  return {
    form: 'frames',
    machineId,
    bus,
    timeMs: read.timeMs.subarray(0, count),
    ids: read.ids.subarray(0, count),
    bytes: read.bytes.subarray(0, count * frameBytes),
    lengths: read.lengths.subarray(0, count),
    unusable,
    leftOut,
  };
}

function readFrames(frames: readonly unknown[], arrivalMs: number) {
  const timeMs = new Float64Array(frames.length);
  const ids = new Uint32Array(frames.length);
  const bytes = new Uint8Array(frames.length * frameBytes);
  const lengths = new Uint8Array(frames.length);
  const outside = { 'bad-time': 0, 'future-time': 0 };
  let count = 0;
  let unusable = 0;
  for (const frame of frames) {
    const { time, id, data } = fieldsOf(frame);
    const atMs = messageTimeMs(time);
    const reason = judgeTime(atMs, arrivalMs);
    const length = readBytes(data, bytes, count * frameBytes);
    const number = readId(id);
    if (reason !== null) outside[reason]++;
    else if (length < 0 || number < 0) unusable++;
    else {
      timeMs[count] = atMs;
      ids[count] = number;
      lengths[count++] = length;
    }
  }
  return {
    timeMs,
    ids,
    bytes,
    lengths,
    count,
    unusable,
    leftOut: listLeftOut(outside['bad-time'], outside['future-time']),
  };
}

function fieldsOf(frame: unknown): { time?: unknown; id?: unknown; data?: unknown } {
  return typeof frame === 'object' && frame !== null ? frame : {};
}

/** The identifier, or -1. */
function readId(id: unknown): number {
  const number = typeof id === 'string' && hexId.test(id) ? Number.parseInt(id, 16) : id;
  return typeof number === 'number' && Number.isInteger(number) && number >= 0 && number <= largestId ? number : -1;
}

/** Writes the bytes of a hexadecimal text to `to` from `at` on; their number, or -1 when it is none of up to 8 bytes. */
function readBytes(text: unknown, to: Uint8Array, at: number): number {
  if (typeof text !== 'string' || text.length % 2 !== 0 || text.length > 2 * frameBytes) return -1;
  for (let i = 0; i < text.length; i += 2) {
    const high = hexDigit(text.charCodeAt(i));
    const low = hexDigit(text.charCodeAt(i + 1));
    if (high < 0 || low < 0) return -1;
    to[at + i / 2] = high * 16 + low;
  }
  return text.length / 2;
}

function hexDigit(code: number): number {
  if (code >= 48 && code <= 57) return code - 48;
  const lower = code | 32;
  return lower >= 97 && lower <= 102 ? lower - 87 : -1;
}
