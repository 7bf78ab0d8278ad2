/** Many byte values as one, for the server to cut up again: arrays of bytes would travel as text. */

export interface CutBytes {
  /** Places of the values, counted from 1 as `substring` does, and their lengths. */
  readonly firsts: readonly number[];
  readonly sizes: readonly number[];
  readonly bytes: Buffer;
}

/** Lays values out one after the other, for `substring($n::bytea FROM first FOR size)`. */
export function cutBytes(values: readonly Uint8Array[]): CutBytes {
  const firsts: number[] = [];
  let first = 1;
  for (const value of values) {
    firsts.push(first);
    first += value.length;
  }
  return { firsts, sizes: values.map((value) => value.length), bytes: Buffer.concat(values) };
}
