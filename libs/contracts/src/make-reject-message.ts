/** What is kept of a message that was not taken. */

import type { LeftOut, RejectedMessage } from './message-checks.js';
import { toInstant } from './to-document.js';
import { messageLimits, type RejectMessage } from './topics.js';

export interface RejectSource {
  readonly reason: RejectedMessage['reason'] | LeftOut['reason'];
  readonly detail: string;
  readonly position: RejectMessage['position'];
  readonly key: string | null;
  readonly payload: Uint8Array;
  /** When it was put aside, UTC epoch ms. */
  readonly atMs: number;
}

/** A key of ours is a machine id; a longer one is not worth more. */
const longestKey = 200;

/** The message for the rejects topic; a long payload is cut off after `messageLimits.rejectedPayloadBytes`. */
export function makeRejectMessage(source: RejectSource): RejectMessage {
  const { reason, detail, position, key, payload, atMs } = source;
  const kept = payload.subarray(0, messageLimits.rejectedPayloadBytes);
  return {
    at: toInstant(atMs),
    reason,
    detail,
    position,
    key: key === null ? null : key.slice(0, longestKey),
    payload: toBase64(kept),
    payloadBytes: payload.length,
    isTruncated: kept.length < payload.length,
  };
}

const alphabet = 'ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/';

/** Source: RFC 4648, 4. */
function toBase64(bytes: Uint8Array): string {
  let text = '';
  for (let at = 0; at < bytes.length; at += 3) {
    const left = bytes.length - at;
    const three = ((bytes[at] ?? 0) << 16) | ((bytes[at + 1] ?? 0) << 8) | (bytes[at + 2] ?? 0);
    text += alphabet.charAt(three >> 18) + alphabet.charAt((three >> 12) & 63);
    text += (left > 1 ? alphabet.charAt((three >> 6) & 63) : '=') + (left > 2 ? alphabet.charAt(three & 63) : '=');
  }
  return text;
}
