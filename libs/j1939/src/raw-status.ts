/** What a raw value says: a measurement, or one of the reserved bit patterns. */

export type RawStatus = 'valid' | 'parameter-specific' | 'reserved' | 'error' | 'not-available';

/**
 * Status of a raw value by its length, for a parameter without a list of its own.
 *
 * Range: bits 2-32. Below 8 bits all ones is "not available" and the value before it "error", except that 3 bits have
 * no general error value, so 6 is reserved there. At 8, 16 and 32 bits the most significant byte decides.
 * Source: SAE J1939-71 (2012) data ranges; pretty_j1939 tests/test_spn_indicator_vectors.py.
 */
export function rawStatus(bits: number, raw: number): RawStatus {
  if (bits < 8) {
    const allOnes = 2 ** bits - 1;
    if (raw === allOnes) return 'not-available';
    if (raw === allOnes - 1) return bits === 3 ? 'reserved' : 'error';
    return 'valid';
  }
  const topByte = bits === 8 ? raw : Math.floor(raw / 2 ** (bits - 8));
  if (topByte <= 0xfa) return 'valid';
  if (topByte === 0xfb) return 'parameter-specific';
  if (topByte <= 0xfd) return 'reserved';
  return topByte === 0xfe ? 'error' : 'not-available';
}

/**
 * Reads an unsigned little-endian field of a payload.
 *
 * Units: startBit counts from 0; bit 0 is the lowest bit of byte 1.
 * Range: bits 1-32; the caller makes sure that the field lies inside the payload.
 */
export function readBits(payload: Uint8Array, startBit: number, bits: number): number {
  const first = startBit >>> 3;
  const shift = startBit & 7;
  if (shift === 0 && bits === 8) return payload[first] as number;
  if (shift === 0 && bits === 16) return (payload[first] as number) | ((payload[first + 1] as number) << 8);
  if (shift + bits <= 8) return ((payload[first] as number) >>> shift) & ((1 << bits) - 1);
  let sum = 0;
  let weight = 1;
  const last = (startBit + bits - 1) >>> 3;
  for (let at = first; at <= last; at++) {
    sum += (payload[at] as number) * weight;
    weight *= 256;
  }
  return Math.floor(sum / 2 ** shift) % 2 ** bits;
}
