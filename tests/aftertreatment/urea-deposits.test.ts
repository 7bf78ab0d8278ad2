import {
  applyUreaDepositStep,
  depositIndexRatio,
  halfLifeMin,
  minutesUntilDepositsUnder,
  noUreaDeposits,
  sprayedWallTempC,
  totalDepositG,
  type UreaDeposits,
  ureaDepositRates,
  ureaDepositStep,
  ureaStickingRatio,
} from '@warmbrick/aftertreatment';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';

const number = (min: number, max: number) => fc.double({ min, max, noNaN: true });
const tempC = number(-60, 1100);
const stepS = number(0.1, 600);
const pools: fc.Arbitrary<UreaDeposits> = fc.record({
  solubleG: number(0, 100),
  cyanuricG: number(0, 100),
  ammelideG: number(0, 100),
});
const inflow = fc.oneof(fc.constant(0), number(0, 0.05));
const keys = ['solubleG', 'cyanuricG', 'ammelideG'] as const;
const close = (a: number, b: number, relative = 1e-9) =>
  Math.abs(a - b) <= relative * Math.max(Math.abs(a), Math.abs(b)) + 1e-200;

const settled = (from: UreaDeposits, wallC: number, elapsedS: number, inGPerS = 0) =>
  applyUreaDepositStep(from, ureaDepositStep(wallC, elapsedS), inGPerS);

describe('urea deposits over a step', () => {
  it('are the same in one step as in two, pool by pool', () => {
    fc.assert(
      fc.property(pools, tempC, stepS, number(0.01, 0.99), inflow, (from, wallC, s, share, inGPerS) => {
        const once = settled(from, wallC, s, inGPerS);
        const twice = settled(settled(from, wallC, s * share, inGPerS), wallC, s * (1 - share), inGPerS);
        for (const key of keys) expect(close(once[key], twice[key]), `${key}: ${once[key]}, ${twice[key]}`).toBe(true);
      }),
      { numRuns: 2000 },
    );
  });

  it('agree with many small steps of the plain equations', () => {
    for (const wallC of [150, 184, 202, 220, 240]) {
      const { solublePerS, cyanuricPerS, ammelidePerS } = ureaDepositRates(wallC);
      const share = 0.3 * Math.min(1, Math.max(0, (wallC - 175) / 18));
      let [s, c, h] = [10, 5, 2];
      const stepsPerS = 200;
      for (let i = 0; i < 300 * stepsPerS; i++) {
        const lostS = (solublePerS * s) / stepsPerS;
        const lostC = (cyanuricPerS * c) / stepsPerS;
        s += 0.01 / stepsPerS - lostS;
        c += share * lostS - lostC;
        h += 0.15 * lostC - (ammelidePerS * h) / stepsPerS;
      }
      const exact = settled({ solubleG: 10, cyanuricG: 5, ammelideG: 2 }, wallC, 300, 0.01);
      expect(exact.solubleG / s, `soluble at ${wallC}`).toBeCloseTo(1, 3);
      expect(exact.cyanuricG / c, `cyanuric at ${wallC}`).toBeCloseTo(1, 3);
      expect(exact.ammelideG / h, `ammelide at ${wallC}`).toBeCloseTo(1, 3);
    }
  });

  // Cyanuric acid and ammelide decompose equally fast where 1.5e19 exp(-260000/RT) = 6.0e14 exp(-220000/RT): 202 C.
  it('pass smoothly through the temperature of equal rates', () => {
    const equalC = 40_000 / (8.314 * Math.log(1.5e19 / 6.0e14)) - 273.15;
    const rates = ureaDepositRates(equalC);
    expect(rates.cyanuricPerS / rates.ammelidePerS).toBeCloseTo(1, 9);
    const from = { solubleG: 0, cyanuricG: 50, ammelideG: 0 };
    const at = (wallC: number) => settled(from, wallC, 600).ammelideG;
    expect(at(equalC)).toBeGreaterThan(at(equalC - 1e-3));
    expect(at(equalC)).toBeLessThan(at(equalC + 1e-3));
    // Both rates times 600 s are far below one, so what arrives is share x rate x time.
    expect(at(equalC) / (0.15 * rates.cyanuricPerS * 600 * 50)).toBeCloseTo(1, 6);
  });

  it('are finite and never below nought, and make no mass', () => {
    fc.assert(
      fc.property(pools, tempC, number(0.1, 1e6), inflow, (from, wallC, s, inGPerS) => {
        const next = settled(from, wallC, s, inGPerS);
        for (const key of keys) {
          expect(Number.isFinite(next[key])).toBe(true);
          expect(next[key]).toBeGreaterThanOrEqual(0);
        }
        expect(totalDepositG(next)).toBeLessThanOrEqual((totalDepositG(from) + inGPerS * s) * (1 + 1e-12));
      }),
      { numRuns: 1000 },
    );
  });

  it('never fall with more urea', () => {
    fc.assert(
      fc.property(pools, tempC, stepS, inflow, number(0, 0.1), (from, wallC, s, inGPerS, more) => {
        const base = settled(from, wallC, s, inGPerS);
        const heavier = settled(from, wallC, s, inGPerS + more);
        for (const key of keys) expect(heavier[key]).toBeGreaterThanOrEqual(base[key]);
      }),
    );
  });

  it('leave a clean wall after a minute at 1100 C', () => {
    expect(totalDepositG(settled({ solubleG: 100, cyanuricG: 100, ammelideG: 100 }, 1100, 60))).toBe(0);
  });

  it('stand still where something is unknown or no time passes', () => {
    const from = { solubleG: 1, cyanuricG: 2, ammelideG: 3 };
    for (const [wallC, s] of [
      [Number.NaN, 10],
      [300, Number.NaN],
      [300, 0],
      [300, -1],
    ] as const) {
      expect(settled(from, wallC, s, 5)).toEqual(from);
    }
    expect(settled(from, 20, 60, Number.NaN)).toEqual(settled(from, 20, 60, 0));
  });
});

describe('minutes until clean', () => {
  it('end at the limit', () => {
    fc.assert(
      fc.property(pools, number(150, 600), number(0.02, 0.98), (from, wallC, share) => {
        const limitG = totalDepositG(from) * share;
        fc.pre(limitG > 1e-3);
        const minutes = minutesUntilDepositsUnder(from, wallC, limitG);
        if (minutes === null) {
          expect(totalDepositG(settled(from, wallC, 60_000 * 60))).toBeGreaterThan(limitG);
        } else {
          expect(close(totalDepositG(settled(from, wallC, minutes * 60)), limitG, 1e-6)).toBe(true);
        }
      }),
      { numRuns: 100 },
    );
  });

  it('say 0 and null', () => {
    const ten = { solubleG: 0, cyanuricG: 10, ammelideG: 0 };
    expect(minutesUntilDepositsUnder(noUreaDeposits, 300, 1)).toBe(0);
    expect(minutesUntilDepositsUnder(ten, 100, 1)).toBeNull();
    expect(minutesUntilDepositsUnder(ten, Number.NaN, 1)).toBeNull();
    expect(minutesUntilDepositsUnder(ten, 350, Number.NaN)).toBeNull();
    expect(depositIndexRatio(ten, 40)).toBe(0.25);
  });
});

describe('urea that sticks', () => {
  it('falls with wall temperature without a jump, between 0.1 and 5 %', () => {
    expect(ureaStickingRatio(20)).toBeCloseTo(0.05, 12);
    expect(ureaStickingRatio(225)).toBeCloseTo(0.02, 12);
    expect(ureaStickingRatio(600)).toBeCloseTo(0.001, 12);
    expect(ureaStickingRatio(Number.NaN)).toBeNaN();
    fc.assert(
      fc.property(tempC, number(0, 1), (wallC, more) => {
        const here = ureaStickingRatio(wallC);
        const warmer = ureaStickingRatio(wallC + more);
        expect(warmer).toBeLessThanOrEqual(here);
        expect(here - warmer).toBeLessThan(0.002);
      }),
    );
  });

  it('meets a wall that the spray has cooled', () => {
    expect(sprayedWallTempC(300, 1)).toBe(260);
    expect(sprayedWallTempC(300, 0.25)).toBe(290);
    expect(sprayedWallTempC(300, 0)).toBe(300);
    expect(sprayedWallTempC(300, -1)).toBe(300);
    expect(sprayedWallTempC(300, 9)).toBe(260);
    expect(sprayedWallTempC(300, Number.NaN)).toBe(260);
    expect(sprayedWallTempC(Number.NaN, 1)).toBeNaN();
  });
});

it('rates grow with temperature and stay finite', () => {
  fc.assert(
    fc.property(tempC, number(0.1, 50), (wallC, more) => {
      const here = ureaDepositRates(wallC);
      const warmer = ureaDepositRates(wallC + more);
      for (const key of Object.keys(here) as (keyof typeof here)[]) {
        expect(Number.isFinite(here[key])).toBe(true);
        expect(warmer[key]).toBeGreaterThan(here[key]);
      }
    }),
  );
  expect(halfLifeMin(0)).toBe(Number.POSITIVE_INFINITY);
  expect(ureaDepositRates(Number.NaN).cyanuricPerS).toBeNaN();
});
