import { createRandom, seedFrom } from '@warmbrick/simulator';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';

describe('seeded randomness', () => {
  it('gives the published first value of the generator for seed 0 (from memory)', () => {
    expect(createRandom(0).next()).toBeCloseTo(0.26642920868471265, 15);
  });

  it('stays in its ranges for any seed', () => {
    fc.assert(
      fc.property(fc.integer(), (seed) => {
        const random = createRandom(seed);
        for (let i = 0; i < 50; i++) {
          const value = random.next();
          expect(value).toBeGreaterThanOrEqual(0);
          expect(value).toBeLessThan(1);
          expect(Math.abs(random.normal())).toBeLessThanOrEqual(Math.sqrt(12));
        }
      }),
    );
  });

  it('has mean 0 and deviation 1 where it says normal, within 2 % over 100 000 draws', () => {
    const random = createRandom(5);
    let sum = 0;
    let squares = 0;
    for (let i = 0; i < 100_000; i++) {
      const value = random.normal();
      sum += value;
      squares += value * value;
    }
    expect(Math.abs(sum / 100_000)).toBeLessThan(0.02);
    expect(Math.abs(Math.sqrt(squares / 100_000) - 1)).toBeLessThan(0.02);
  });

  it('makes other seeds of other parts, and does not take two parts for one', () => {
    expect(seedFrom(1, 'noise')).toBe(seedFrom(1, 'noise'));
    expect(
      new Set([seedFrom(1, 'a'), seedFrom(1, 'b'), seedFrom(2, 'a'), seedFrom('1a'), seedFrom(12), seedFrom(1, 2)])
        .size,
    ).toBe(6);
  });
});
