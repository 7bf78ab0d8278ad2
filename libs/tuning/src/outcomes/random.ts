/** Chance as an argument: a seeded generator of the caller's. */

export interface RandomSource {
  /** Uniform in 0 (inclusive) to 1 (exclusive). */
  next(): number;
}

/** A whole number from 0 up to and without `count`. */
export function drawIndex(random: RandomSource, count: number): number {
  return Math.min(count - 1, Math.floor(random.next() * count));
}

/** The numbers 0..count-1 in drawn order. Source: Fisher and Yates, in Durstenfeld's form. */
export function shuffled(random: RandomSource, count: number): number[] {
  const order = Array.from({ length: count }, (_, i) => i);
  for (let i = count - 1; i > 0; i--) {
    const j = drawIndex(random, i + 1);
    [order[i], order[j]] = [order[j] as number, order[i] as number];
  }
  return order;
}
