import { builtInThresholds } from '@warmbrick/analysis';
import { createRandom } from '@warmbrick/simulator';
import {
  brokenConstraints,
  createSpace,
  type Evaluation,
  evolutionSeeker,
  gridSeeker,
  paretoFront,
  type Seeker,
  signFlipChance,
  thresholdNotes,
} from '@warmbrick/tuning';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';

function least(seeker: Seeker, cost: (point: readonly number[]) => number, rounds: number): number {
  let best = Number.POSITIVE_INFINITY;
  for (let round = 0; round < rounds; round++) {
    const costs = seeker.ask().map(cost);
    best = Math.min(best, ...costs);
    seeker.tell(costs);
  }
  return best;
}

describe('the evolution strategy', () => {
  // Source: H. H. Rosenbrock (1960); its valley is the usual test for adapting the covariance. Cube 0..1 stands for -2..2.
  const rosenbrock = ([x = 0, y = 0]: readonly number[]) => {
    const [a, b] = [4 * x - 2, 4 * y - 2];
    return (1 - a) ** 2 + 100 * (b - a * a) ** 2;
  };
  it.each([1, 2, 3, 4])('comes down a curved valley (seed %i)', (seed) => {
    expect(least(evolutionSeeker([0.2, 0.8], createRandom(seed)), rosenbrock, 150)).toBeLessThan(1e-3);
  });
  it('gets over steps', () => {
    const steps = (point: readonly number[]) => point.reduce((sum, x) => sum + Math.floor(10 * Math.abs(x - 0.37)), 0);
    expect(least(evolutionSeeker([0.9, 0.9, 0.1], createRandom(1)), steps, 60)).toBe(0);
  });
  it('takes one axis, and finds a best on the edge', () => {
    expect(least(evolutionSeeker([0.5], createRandom(2)), ([x = 0]) => x, 40)).toBeLessThan(1e-3);
  });
  it('is the same with the same seed', () => {
    const points = () => {
      const seeker = evolutionSeeker([0.4, 0.6], createRandom(9));
      return Array.from({ length: 5 }, () => {
        const asked = seeker.ask();
        seeker.tell(asked.map(rosenbrock));
        return asked;
      });
    };
    expect(points()).toEqual(points());
  });
});

describe('the grid', () => {
  it('has every corner and every point once', () => {
    const seeker = gridSeeker(2, 3);
    const points = [...seeker.ask(), ...seeker.ask()].map((point) => point.join());
    expect(points).toHaveLength(9);
    expect(new Set(points).size).toBe(9);
    expect(points).toEqual(expect.arrayContaining(['0,0', '1,1', '0,1', '1,0', '0.5,0.5']));
    expect(seeker.ask()).toEqual([]);
  });
});

describe('the space', () => {
  it('keeps to the bounds and can be gone through both ways, for every threshold', () => {
    for (const { name, min, max } of thresholdNotes) {
      const space = createSpace([{ name, min, max }], builtInThresholds);
      fc.assert(
        fc.property(fc.double({ min: 0, max: 1, noNaN: true }), (x) => {
          const value = space.valuesAt([x])[name];
          expect(value).toBeGreaterThanOrEqual(min);
          expect(value).toBeLessThanOrEqual(max);
          expect(space.valuesAt(space.pointOf(space.valuesAt([x])))[name]).toBe(value);
        }),
        { numRuns: 30 },
      );
    }
  });
});

describe('constraints', () => {
  it('hold for the built-in set', () => expect(brokenConstraints(builtInThresholds.values)).toEqual([]));
  it('name what crosses', () => {
    const values = { ...builtInThresholds.values, defLowClearPct: 10, hotMetalC: 400, coldDeadbandC: 100 };
    const broken = brokenConstraints(values, [{ lowC: 350, highC: 450 }]).join('\n');
    expect(broken).toContain('defLowPct 10 is not below defLowClearPct 10: it would clear where it raises');
    expect(broken).toContain('hotMetalC');
    expect(broken).toContain("coldDeadbandC 100 is wider than a catalyst's window of 100 K");
  });
});

describe('the Pareto front', () => {
  const at = (cost: number, hitRatio: number): Evaluation =>
    ({ figures: { costPerMachineMonth: cost, hitRatio } }) as Evaluation;
  it('keeps what nothing beats, by hand', () => {
    const all = [at(5, 0.9), at(3, 0.5), at(4, 0.4), at(3, 0.5), at(9, 0.9), at(1, Number.NaN)];
    const front = paretoFront(all, ['costPerMachineMonth', 'hitRatio']);
    expect(front.map(({ figures }) => figures.costPerMachineMonth)).toEqual([1, 3, 5]);
  });
  it('has no member that another beats, and beats all others (any costs)', () => {
    fc.assert(
      fc.property(fc.array(fc.tuple(fc.nat(9), fc.nat(9)), { minLength: 1, maxLength: 40 }), (pairs) => {
        const all = pairs.map(([cost, hits]) => at(cost, hits / 9));
        const front = paretoFront(all, ['costPerMachineMonth', 'hitRatio']);
        const beats = (a: Evaluation, b: Evaluation) =>
          a.figures.costPerMachineMonth <= b.figures.costPerMachineMonth &&
          a.figures.hitRatio >= b.figures.hitRatio &&
          (a.figures.costPerMachineMonth < b.figures.costPerMachineMonth || a.figures.hitRatio > b.figures.hitRatio);
        for (const one of front) expect(all.some((other) => beats(other, one))).toBe(false);
        for (const one of all) {
          const same = (other: Evaluation) =>
            other.figures.costPerMachineMonth === one.figures.costPerMachineMonth &&
            other.figures.hitRatio === one.figures.hitRatio;
          expect(front.some((other) => same(other) || beats(other, one))).toBe(true);
        }
      }),
    );
  });
});

describe('the sign test', () => {
  // Source: R. A. Fisher, The Design of Experiments (1935), 21: Darwin's maize, 15 pairs; 863 of the 32 768 sums reach 314,
  // and as many on each side counted with it give 1726 / 32 768 = 5.27 % for both.
  const maize = [49, -67, 8, 16, 6, 23, 28, 41, 14, 29, 56, 24, 75, 60, -48];
  it('gives what Fisher reckoned for Darwin’s maize', () => {
    expect(maize.reduce((sum, d) => sum + d, 0)).toBe(314);
    expect(signFlipChance(maize, createRandom(1))).toBeCloseTo(863 / 32_768, 2);
  });
  it('goes through all signs of few pairs', () => {
    expect(signFlipChance([1, 2, 3], createRandom(1))).toBe(1 / 8);
    expect(signFlipChance([0, 0], createRandom(1))).toBe(1);
  });
});
