/** Growing bytes with varints. */

/** Doubles hold whole numbers exactly up to 2^53, and zigzag doubles the number. */
export const maxExactCount = 2 ** 51;

export interface ByteWriter {
  /** Writes a whole number from 0 to 2^53. */
  unsigned(value: number): void;
  /** Writes a whole number of either sign, up to 2^52 in size. */
  signed(value: number): void;
  bytes(bytes: Uint8Array): void;
  /** Writes the differences between the first `count` whole numbers, each up to 2^51 in size, as signed numbers. */
  differences(numbers: Float64Array, count: number): void;
  finish(): Uint8Array;
}

/** Longest varint of a 53-bit number in bytes. */
const maxVarintBytes = 8;

/** An empty writer. `sizeHint` spares it from growing. */
export function createByteWriter(sizeHint: number): ByteWriter {
  let buffer = new Uint8Array(Math.max(64, sizeHint));
  let length = 0;

  function reserve(more: number): void {
    if (length + more <= buffer.length) return;
    const larger = new Uint8Array(Math.max(buffer.length * 2, length + more));
    larger.set(buffer);
    buffer = larger;
  }

  function unsigned(value: number): void {
    if (length + maxVarintBytes > buffer.length) reserve(maxVarintBytes);
    let rest = value;
    while (rest >= 0x80000000) {
      buffer[length++] = (rest % 128) | 128;
      rest = Math.floor(rest / 128);
    }
    while (rest >= 128) {
      buffer[length++] = (rest & 127) | 128;
      rest >>>= 7;
    }
    buffer[length++] = rest;
  }

  return {
    unsigned,
    signed(value) {
      unsigned(value >= 0 ? value * 2 : -value * 2 - 1);
    },
    bytes(bytes) {
      reserve(bytes.length);
      buffer.set(bytes, length);
      length += bytes.length;
    },
    differences(numbers, count) {
      reserve(count * maxVarintBytes);
      const to = buffer;
      let at = length;
      let last = 0;
      for (let i = 0; i < count; i++) {
        const number = numbers[i] as number;
        const step = number - last;
        last = number;
        let rest = step >= 0 ? step * 2 : -step * 2 - 1;
        while (rest >= 0x80000000) {
          to[at++] = (rest % 128) | 128;
          rest = Math.floor(rest / 128);
        }
        let small = rest | 0;
        while (small >= 128) {
          to[at++] = (small & 127) | 128;
          small >>>= 7;
        }
        to[at++] = small;
      }
      length = at;
    },
    finish: () => buffer.subarray(0, length),
  };
}
