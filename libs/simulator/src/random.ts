/** Seeded randomness of our own: the same seed gives the same machine on every computer. */

export interface Random {
  /** Uniform in 0 (inclusive) to 1 (exclusive). */
  next(): number;
  /** Uniform between two numbers. */
  between(low: number, high: number): number;
  /** Nearly normal with mean 0 and deviation 1; never beyond 3.5 deviations. */
  normal(): number;
}

/**
 * A generator that starts from a seed.
 *
 * Source: the public-domain mulberry32 step (Weyl sequence with a 32-bit mixing function, period 2^32). The normal
 * variate is the sum of four uniforms: bounded, and free of library functions that differ between platforms.
 */
export function createRandom(seed: number): Random {
  let state = seed >>> 0;
  const next = (): number => {
    state = (state + 0x6d2b79f5) >>> 0;
    return mix(state) / 0x1_0000_0000;
  };
  return {
    next,
    between: (low, high) => low + (high - low) * next(),
    normal: () => (next() + next() + next() + next() - 2) * Math.sqrt(3),
  };
}

/** A seed made of numbers and texts: the same parts give the same seed, and near parts give unrelated ones. */
export function seedFrom(...parts: readonly (number | string)[]): number {
  let hash = 0x811c9dc5;
  for (const part of parts) {
    const text = `${part}|`;
    for (let i = 0; i < text.length; i++) hash = Math.imul(hash ^ text.charCodeAt(i), 0x01000193) >>> 0;
  }
  return mix(hash);
}

function mix(value: number): number {
  let mixed = Math.imul(value ^ (value >>> 15), value | 1);
  mixed ^= mixed + Math.imul(mixed ^ (mixed >>> 7), mixed | 61);
  return (mixed ^ (mixed >>> 14)) >>> 0;
}
