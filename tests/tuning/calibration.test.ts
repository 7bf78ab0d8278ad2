import { type ScorePart, scoreParts } from '@warmbrick/analysis';
import { createRandom } from '@warmbrick/simulator';
import {
  chanceAt,
  fitIsotonic,
  fitWeights,
  pressuresOf,
  refittedScore,
  reliabilityOf,
  type ScoredMoment,
} from '@warmbrick/tuning';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';

describe('the rising curve', () => {
  // Source: R, documentation of stats::isoreg, example isoreg(c(1,0,4,3,3,5,4,2,0)): fitted 0.5 twice, then 3.
  it('is that of the example of isoreg', () => {
    const points = [1, 0, 4, 3, 3, 5, 4, 2, 0].map((came, score) => ({ score, came }));
    const steps = fitIsotonic(points);
    expect(points.map(({ score }) => chanceAt(steps, score))).toEqual([0.5, 0.5, 3, 3, 3, 3, 3, 3, 3]);
  });

  it('never falls, keeps the sum and is never worse than one chance for all (any points)', () => {
    const point = fc.record({ score: fc.nat(20), came: fc.constantFrom(0, 1) });
    fc.assert(
      fc.property(fc.array(point, { minLength: 1, maxLength: 60 }), (points) => {
        const steps = fitIsotonic(points);
        for (let k = 1; k < steps.length; k++) {
          expect(steps[k]?.chance).toBeGreaterThan(steps[k - 1]?.chance as number);
          expect(steps[k]?.upTo).toBeGreaterThan(steps[k - 1]?.upTo as number);
        }
        const told = points.map(({ score }) => chanceAt(steps, score));
        const came = points.reduce((sum, one) => sum + one.came, 0);
        expect(told.reduce((sum, chance) => sum + chance, 0)).toBeCloseTo(came, 8);
        const squares = (chances: number[]) =>
          points.reduce((sum, one, i) => sum + (one.came - (chances[i] as number)) ** 2, 0);
        expect(squares(told)).toBeLessThanOrEqual(squares(points.map(() => came / points.length)) + 1e-9);
      }),
    );
  });
});

/** Moments whose truth was drawn from known factors. */
function drawn(count: number, factors: Record<ScorePart, number>, always: number, seed: number): ScoredMoment[] {
  const random = createRandom(seed);
  return Array.from({ length: count }, (_, i) => {
    const pressures = Object.fromEntries(
      scoreParts.map((name) => [name, random.next() < 0.5 ? random.next() : 0]),
    ) as Record<ScorePart, number>;
    const sum = scoreParts.reduce((total, name) => total + factors[name] * pressures[name], always);
    const score = 100 * (1 - Math.exp(-scoreParts.reduce((total, name) => total + pressures[name], 0)));
    return { machineId: `m${i % 20}`, score, pressures, hasCome: random.next() < 1 - Math.exp(-sum) };
  });
}

describe('fitted weights', () => {
  const factors = { 'soot-load': 1.5, deposits: 0.4, 'cold-running': 0, idling: 0.8, 'hot-stops': 0.1 };
  it('come back from what was drawn by them', () => {
    const fitted = fitWeights(drawn(8000, factors, 0.05, 1));
    for (const name of scoreParts) expect(fitted?.factors[name], name).toBeCloseTo(factors[name], 0.7);
    expect(Math.abs((fitted?.factors['cold-running'] ?? 1) - 0)).toBeLessThan(0.1);
    expect(Math.abs((fitted?.always ?? 1) - 0.05)).toBeLessThan(0.05);
    expect(fitted?.after).toBeGreaterThan(fitted?.before as number);
  });

  it('are never below 0 and never make what came less likely (any moments)', () => {
    fc.assert(
      fc.property(fc.integer({ min: 5, max: 80 }), fc.nat(1e6), (count, seed) => {
        const fitted = fitWeights(drawn(count, factors, 0.1, seed));
        if (fitted === null) return;
        for (const factor of Object.values(fitted.factors)) expect(factor).toBeGreaterThanOrEqual(0);
        expect(fitted.after).toBeGreaterThanOrEqual(fitted.before - 1e-9);
      }),
      { numRuns: 25 },
    );
  });

  it('keep the score rising with each part', () => {
    const fitted = fitWeights(drawn(500, factors, 0.05, 3));
    if (fitted === null) throw new Error('nothing fitted');
    const base = Object.fromEntries(scoreParts.map((name) => [name, 0.2])) as Record<ScorePart, number>;
    for (const name of scoreParts) {
      const more = { pressures: { ...base, [name]: 0.4 } };
      expect(refittedScore(more, fitted)).toBeGreaterThanOrEqual(refittedScore({ pressures: base }, fitted));
    }
  });

  it('have no answer without both kinds of moment', () => {
    expect(fitWeights(drawn(10, factors, 0, 1).map((one) => ({ ...one, hasCome: true })))).toBeNull();
    expect(fitWeights([])).toBeNull();
  });

  it('start from the pressures of the score itself', () => {
    const parts = { 'soot-load': 30, deposits: 10, 'cold-running': 5, idling: 5, 'hot-stops': 0 };
    const sum = Object.values(pressuresOf({ value: 50, parts })).reduce((total, one) => total + one, 0);
    expect(sum).toBeCloseTo(Math.LN2, 12);
    expect(pressuresOf({ value: 50, parts })['soot-load']).toBeCloseTo(0.6 * Math.LN2, 12);
  });
});

describe('reliability', () => {
  it('is what it says, by hand', () => {
    const table = reliabilityOf([
      { chance: 0.05, hasCome: false },
      { chance: 0.15, hasCome: true },
      { chance: 0.95, hasCome: true },
      { chance: 1, hasCome: false },
    ]);
    expect(table.bins[9]).toEqual({ from: 0.9, moments: 2, came: 1, told: 0.975 });
    expect(table.brier).toBeCloseTo((0.05 ** 2 + 0.85 ** 2 + 0.05 ** 2 + 1) / 4, 12);
    expect(table.calibrationError).toBeCloseTo((0.05 + 0.85 + 0.95) / 4, 12);
    expect(table.areaUnderCurve).toBe(0.5);
  });
});
