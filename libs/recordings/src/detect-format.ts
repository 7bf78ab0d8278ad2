/** Tells a recording's format from its first bytes, never from its name. */

import type { RecordingFormat } from './recording.js';

/** Bytes of the head that the answer is made from; more are ignored. */
const headBytes = 65_536;

const byteOrderMark = '\uFEFF';
const candumpLine = /^\s*\(\d+\.\d+\)\s+\S+\s+[0-9A-Fa-f]{3,8}(#|\s+\[)/;
const separators = [',', ';', '\t'] as const;
/** Share of characters that no text file holds above which the head is binary. Source: engineering judgement. */
const binaryRatio = 0.01;

/**
 * The format of a recording, or null when the bytes are none of them.
 *
 * Shapes: the first bytes of the (already decompressed) recording; 64 KiB are plenty.
 */
export function detectFormat(head: Uint8Array): RecordingFormat | null {
  if (startsWith(head, 'PAR1')) return 'parquet';
  const text = new TextDecoder('utf-8').decode(head.subarray(0, headBytes)).replace(byteOrderMark, '');
  if (isBinary(text)) return null;
  const first = text.split('\n').find((line) => line.trim() !== '');
  if (first === undefined) return null;
  if (candumpLine.test(first)) return 'candump';
  if (first.trimStart().startsWith('{')) return 'ndjson';
  const separator = findSeparator(first);
  if (separator === null) return null;
  const names = first.split(separator).map((name) => name.trim().replaceAll('"', '').toLowerCase());
  return ['pgn', 'source', 'data'].every((name) => names.includes(name)) ? 'can-csv' : 'csv';
}

/** Whether the bytes are a gzip member. Source: RFC 1952, 2.3.1. */
export function isGzip(head: Uint8Array): boolean {
  return head[0] === 0x1f && head[1] === 0x8b;
}

/** The separator that a header line uses most, or null when it has none. */
export function findSeparator(header: string): string | null {
  let best: string | null = null;
  let most = 0;
  for (const separator of separators) {
    const count = header.split(separator).length - 1;
    if (count > most) {
      most = count;
      best = separator;
    }
  }
  return best;
}

function startsWith(head: Uint8Array, magic: string): boolean {
  for (let i = 0; i < magic.length; i++) if (head[i] !== magic.charCodeAt(i)) return false;
  return true;
}

function isBinary(text: string): boolean {
  let strange = 0;
  for (let i = 0; i < text.length; i++) {
    const code = text.charCodeAt(i);
    if (code === 0xfffd || (code < 32 && code !== 9 && code !== 10 && code !== 13)) strange++;
  }
  // A multi-byte character may be cut at the end of the head.
  return strange > 1 && strange > text.length * binaryRatio;
}
