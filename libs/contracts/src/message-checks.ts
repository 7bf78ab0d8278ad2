/** What every decoder of messages checks: size, JSON, the machine's id, the time. */

import { messageTimeMs } from './message-time.js';
import { machineIdPattern, messageLimits, type RejectReason } from './topics.js';

export interface RejectedMessage {
  readonly form: 'reject';
  readonly reason: RejectReason;
  /** What was expected and what was found; no payload. */
  readonly detail: string;
}

/** Samples or frames of a message that were left out because of their time; the message itself is worth keeping. */
export interface LeftOut {
  readonly reason: 'bad-time' | 'future-time';
  readonly count: number;
}

/** A message as far as all forms have it in common. */
export interface OpenedMessage {
  readonly form: 'opened';
  readonly machineId: string;
  readonly fields: Readonly<Record<string, unknown>>;
}

/** Times before this are those of a clock that was never set, ms: 2000-01-01. Source: engineering judgement. */
const earliestMs = 946_684_800_000;
/** How far a machine's clock may be ahead of ours, ms. Source: engineering judgement; an hour is a wrong time zone. */
const aheadMs = 3_600_000;

/** Part of every browser and of Node; the language's own library does not list it. Source: WHATWG Encoding. */
declare const TextDecoder: new (label: string, options: { fatal: boolean }) => { decode(bytes: Uint8Array): string };

const utf8 = new TextDecoder('utf-8', { fatal: true });

/** Makes a reject. */
export function reject(reason: RejectReason, detail: string): RejectedMessage {
  return { form: 'reject', reason, detail };
}

/** Makes the reject of a message that holds more than is taken. */
export function rejectTooMany(count: number, what: string, most: number): RejectedMessage {
  return reject('too-large', `${count} ${what}; at most ${most} are taken`);
}

/** Parses a message and checks its machine. Errors: none; a reject, whatever the bytes are. */
export function openMessage(payload: Uint8Array): OpenedMessage | RejectedMessage {
  if (payload.length > messageLimits.bytes) return rejectTooMany(payload.length, 'bytes', messageLimits.bytes);
  const fields = parseJson(payload);
  if (fields === undefined) return reject('bad-json', 'the payload is not JSON in UTF-8');
  if (!isRecord(fields)) return reject('bad-shape', 'expected a JSON object');
  const { machineId } = fields;
  if (typeof machineId !== 'string' || !machineIdPattern.test(machineId)) {
    return reject('bad-shape', 'machineId: expected a text of 1 to 100 characters without control characters');
  }
  return { form: 'opened', machineId, fields };
}

/** Whether a value is a JSON object. */
export function isRecord(value: unknown): value is Record<string, unknown> {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}

/** What is wrong with a time of a message that arrived at `arrivalMs`, or null. */
export function judgeTime(timeMs: number, arrivalMs: number): LeftOut['reason'] | null {
  if (!(timeMs >= earliestMs)) return 'bad-time';
  return timeMs > arrivalMs + aheadMs ? 'future-time' : null;
}

/** The time of a message that has one only, in ms, or a reject. */
export function readMessageTime(time: unknown, arrivalMs: number): number | RejectedMessage {
  const timeMs = messageTimeMs(time);
  const reason = judgeTime(timeMs, arrivalMs);
  if (reason === null) return timeMs;
  const shown = typeof time === 'string' ? `"${time.slice(0, 40)}"` : typeof time === 'number' ? time : typeof time;
  return reject(
    reason,
    reason === 'future-time'
      ? `time ${shown} lies more than an hour after the arrival`
      : `time ${shown}: expected RFC 3339 with an offset or epoch milliseconds, from the year 2000`,
  );
}

/** The kinds of times that were left out, with how many; empty when none was. */
export function listLeftOut(badTimes: number, futureTimes: number): LeftOut[] {
  const leftOut: LeftOut[] = [];
  if (badTimes > 0) leftOut.push({ reason: 'bad-time', count: badTimes });
  if (futureTimes > 0) leftOut.push({ reason: 'future-time', count: futureTimes });
  return leftOut;
}

/** Parsed JSON; undefined, which no JSON gives, when it is none. */
function parseJson(bytes: Uint8Array): unknown {
  try {
    return JSON.parse(utf8.decode(bytes));
  } catch {
    return undefined;
  }
}
