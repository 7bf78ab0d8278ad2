/** Reading varints out of bytes that may be damaged. */

import { OperatingError } from '@warmbrick/runtime';
import type { Column } from '@warmbrick/signals';

export interface ByteReader {
  unsigned(): number;
  signed(): number;
  /** Reads sums of signed differences into places [from, to) as `sum * scale + offset`; gives the last sum. */
  sums(column: Column, range: SumRange): number;
  /** A view of the next bytes; shares memory. */
  bytes(count: number): Uint8Array;
  remaining(): number;
}

interface SumRange {
  readonly from: number;
  readonly to: number;
  /** What the first difference is added to. */
  readonly last: number;
  readonly scale: number;
  readonly offset: number;
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
    sums(column, range) {
      const { to, scale, offset } = range;
      let { last } = range;
      for (let i = range.from; i < to; i++) {
        // Nearly all differences are one or two bytes long.
        const first = source[at] as number;
        const second = source[at + 1] as number;
        let folded: number;
        if (first < 128) {
          folded = first;
          at++;
        } else if (second < 128) {
          folded = (first & 127) | (second << 7);
          at += 2;
        } else {
          folded = unsigned();
        }
        last += folded % 2 === 0 ? folded / 2 : -(folded + 1) / 2;
        column[i] = last * scale + offset;
      }
      return last;
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
