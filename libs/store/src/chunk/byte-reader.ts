/** Reading varints out of bytes that may be damaged. */

import { OperatingError } from '@warmbrick/runtime';

export interface ByteReader {
  unsigned(): number;
  signed(): number;
  /** A view of the next bytes; shares memory. */
  bytes(count: number): Uint8Array;
  remaining(): number;
}

/** A reader over bytes. Errors: OperatingError `damaged-chunk` wherever the bytes end early or make no sense. */
export function createByteReader(source: Uint8Array): ByteReader {
  let at = 0;

  function unsigned(): number {
    let value = 0;
    let scale = 1;
    for (;;) {
      if (at >= source.length) throw damagedChunk('it ends within a number');
      const byte = source[at++] as number;
      value += (byte & 127) * scale;
      if (byte < 128) break;
      scale *= 128;
      if (scale > Number.MAX_SAFE_INTEGER) throw damagedChunk('a number is too long');
    }
    if (value > Number.MAX_SAFE_INTEGER) throw damagedChunk('a number is too large');
    return value;
  }

  return {
    unsigned,
    signed() {
      const folded = unsigned();
      return folded % 2 === 0 ? folded / 2 : -(folded + 1) / 2;
    },
    bytes(count) {
      if (count > source.length - at) throw damagedChunk('it ends too early');
      at += count;
      return source.subarray(at - count, at);
    },
    remaining: () => source.length - at,
  };
}

/** The error for bytes that are no chunk. */
export function damagedChunk(why: string, cause?: unknown): OperatingError {
  return new OperatingError(`An archived chunk is damaged: ${why}.`, {
    code: 'damaged-chunk',
    remedy: 'Restore the database from a backup, or re-read this time from its source.',
    cause,
  });
}
