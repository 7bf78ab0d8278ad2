import {
  caughtSootGPerS,
  engineOutSootGPerKWh,
  engineOutSootGPerS,
  measuredSootGPerKgFuel,
  minutesUntilSootUnder,
  netSootGPerS,
  type SootConditions,
  sootBalanceLoadG,
  sootBalancePointC,
  sootTransientFactor,
  stepSootLoadG,
  usualFuelGPerKWh,
} from '@warmbrick/aftertreatment';
import type { SootLevel } from '@warmbrick/signals';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';

const number = (min: number, max: number) => fc.double({ min, max, noNaN: true });
const conditions: fc.Arbitrary<SootConditions> = fc.record({
  sootInGPerS: fc.oneof(fc.constant(0), number(0, 0.05)),
  tempC: number(-60, 1100),
  no2Ratio: fc.oneof(fc.constant(0), number(0, 1e-3)),
  o2Ratio: fc.oneof(fc.constant(0), number(0, 0.21)),
  no2CapGPerS: fc.oneof(fc.constant(0), number(0, 0.02), fc.constant(Number.POSITIVE_INFINITY)),
});
const loadG = fc.oneof(fc.constant(0), number(0, 500));
const stepS = number(0.1, 600);
const close = (a: number, b: number, relative = 1e-9) =>
  Math.abs(a - b) <= relative * Math.max(Math.abs(a), Math.abs(b)) + 1e-11;

const warm: SootConditions = {
  sootInGPerS: 6 / 3600,
  tempC: 350,
  no2Ratio: 300e-6,
  o2Ratio: 0.1,
  no2CapGPerS: Number.POSITIVE_INFINITY,
};

describe('soot load over a step', () => {
  it('is the same in one step as in two', () => {
    fc.assert(
      fc.property(loadG, conditions, stepS, number(0.01, 0.99), (g, at, s, share) => {
        const once = stepSootLoadG(g, at, s);
        const twice = stepSootLoadG(stepSootLoadG(g, at, s * share), at, s * (1 - share));
        expect(close(once, twice), `${once} against ${twice}`).toBe(true);
      }),
      { numRuns: 2000 },
    );
  });

  it('agrees with many small steps of the plain equation', () => {
    fc.assert(
      fc.property(loadG, conditions, (g, at) => {
        fc.pre(at.tempC < 650);
        let plainG = g;
        for (let i = 0; i < 60_000; i++) plainG += netSootGPerS(plainG, at) * 0.01;
        expect(close(stepSootLoadG(g, at, 600), plainG, 2e-4)).toBe(true);
      }),
      { numRuns: 40 },
    );
  });

  it('is finite, never below nought, and monotone towards the balance load', () => {
    fc.assert(
      fc.property(loadG, conditions, stepS, (g, at, s) => {
        const next = stepSootLoadG(g, at, s);
        expect(Number.isFinite(next)).toBe(true);
        expect(next).toBeGreaterThanOrEqual(0);
        const balance = sootBalanceLoadG(at);
        if (balance > g) expect(next).toBeLessThanOrEqual(balance * (1 + 1e-9));
        if (balance < g) expect(next).toBeGreaterThanOrEqual(balance * (1 - 1e-9) - 1e-12);
      }),
      { numRuns: 2000 },
    );
  });

  it('never falls with more soot, never rises with heat, NO2, O2 or a larger NO2 supply', () => {
    fc.assert(
      fc.property(loadG, conditions, stepS, number(0, 1), (g, at, s, more) => {
        const base = stepSootLoadG(g, at, s);
        const roof = base * (1 + 1e-9) + 1e-11;
        expect(stepSootLoadG(g + more, at, s)).toBeGreaterThanOrEqual(base * (1 - 1e-9));
        expect(stepSootLoadG(g, { ...at, tempC: at.tempC + 50 * more }, s)).toBeLessThanOrEqual(roof);
        expect(stepSootLoadG(g, { ...at, o2Ratio: at.o2Ratio + 0.1 * more }, s)).toBeLessThanOrEqual(roof);
        expect(stepSootLoadG(g, { ...at, no2Ratio: at.no2Ratio + 1e-4 * more }, s)).toBeLessThanOrEqual(roof);
        expect(stepSootLoadG(g, { ...at, no2CapGPerS: at.no2CapGPerS + more }, s)).toBeLessThanOrEqual(roof);
      }),
      { numRuns: 1000 },
    );
  });

  it('stands still where something is unknown or no time passes', () => {
    for (const key of Object.keys(warm)) {
      expect(stepSootLoadG(12, { ...warm, [key]: Number.NaN }, 60), key).toBe(12);
    }
    expect(stepSootLoadG(12, warm, Number.NaN)).toBe(12);
    expect(stepSootLoadG(12, warm, 0)).toBe(12);
    expect(stepSootLoadG(12, warm, -5)).toBe(12);
  });

  it('burns a constant amount while the NO2 is short', () => {
    const short = { ...warm, sootInGPerS: 0, o2Ratio: 0, tempC: 400, no2CapGPerS: 0.001 };
    expect(stepSootLoadG(100, short, 600)).toBeCloseTo(99.4, 9);
  });
});

describe('balance load', () => {
  it('gains nothing and loses nothing', () => {
    fc.assert(
      fc.property(conditions, (at) => {
        const balance = sootBalanceLoadG(at);
        fc.pre(Number.isFinite(balance) && balance < 1e9);
        expect(Math.abs(netSootGPerS(balance, at))).toBeLessThanOrEqual(1e-9 * (at.sootInGPerS + 1));
      }),
    );
  });

  it('is endless where more comes in than the NO2 can burn and there is no oxygen', () => {
    expect(sootBalanceLoadG({ ...warm, o2Ratio: 0, no2CapGPerS: 0.001 })).toBe(Number.POSITIVE_INFINITY);
    expect(sootBalanceLoadG({ ...warm, tempC: Number.NaN })).toBeNaN();
    expect(sootBalanceLoadG({ ...warm, sootInGPerS: 0 })).toBe(0);
  });
});

describe('minutes until under a limit', () => {
  it('end at the limit', () => {
    fc.assert(
      fc.property(loadG, conditions, number(0.01, 0.99), (g, at, share) => {
        fc.pre(g > 1e-3);
        const limitG = g * share;
        const minutes = minutesUntilSootUnder(g, limitG, at);
        if (minutes === null) {
          // Not in thirty thousand years, at least.
          expect(netSootGPerS(limitG, at)).toBeGreaterThanOrEqual(-2e-10 * limitG - 1e-12);
          return;
        }
        fc.pre(Math.abs(sootBalanceLoadG(at) - limitG) > 1e-6 * limitG);
        expect(close(stepSootLoadG(g, at, minutes * 60), limitG, 1e-7)).toBe(true);
      }),
      { numRuns: 1000 },
    );
  });

  // Found by the law above: so little oxygen that the rate has no digits left to reckon a time with.
  it('say null where it would take longer than anybody waits', () => {
    const barely = { ...warm, sootInGPerS: 0, tempC: 0, no2Ratio: 0, o2Ratio: 2.8e-287, no2CapGPerS: 0 };
    expect(minutesUntilSootUnder(1e-3, 1e-5, barely)).toBeNull();
  });

  it('say 0, null and a plain half-life', () => {
    const clean = { ...warm, sootInGPerS: 0, o2Ratio: 0 };
    expect(minutesUntilSootUnder(5, 5, warm)).toBe(0);
    expect(minutesUntilSootUnder(20, 5, warm)).toBeNull();
    expect(minutesUntilSootUnder(Number.NaN, 5, warm)).toBeNull();
    expect(minutesUntilSootUnder(20, 10, { ...warm, tempC: Number.NaN })).toBeNull();
    // Domain notes, section 2.3: half-life 77 min at 350 C and 300 ppm.
    expect(minutesUntilSootUnder(20, 10, clean)).toBeCloseTo(77.02, 1);
  });
});

describe('balance point', () => {
  it('is the temperature at which the load stands still', () => {
    const tempC = sootBalancePointC(20, warm) as number;
    expect(sootBalanceLoadG({ ...warm, tempC })).toBeCloseTo(20, 6);
    expect(sootBalancePointC(20, { ...warm, sootInGPerS: 0 })).toBeNull();
    expect(sootBalancePointC(Number.NaN, warm)).toBeNull();
    expect(sootBalancePointC(0, warm)).toBeNull();
  });

  it('falls with more soot in the filter', () => {
    fc.assert(
      fc.property(number(2, 100), number(1, 50), (g, more) => {
        expect(sootBalancePointC(g + more, warm) as number).toBeLessThan(sootBalancePointC(g, warm) as number);
      }),
    );
  });
});

describe('engine-out soot', () => {
  const levels = Object.keys(engineOutSootGPerKWh) as SootLevel[];

  it('averages to the level of the kind of engine over the load range', () => {
    for (const level of levels) {
      let sum = 0;
      for (let i = 0; i <= 100; i++)
        sum += engineOutSootGPerS({ fuelKgPerH: usualFuelGPerKWh, loadRatio: i / 100, level });
      const gPerKWh = ((sum / 101) * 3600) / 1000;
      expect(gPerKWh / engineOutSootGPerKWh[level], level).toBeGreaterThan(0.85);
      expect(gPerKWh / engineOutSootGPerKWh[level], level).toBeLessThan(1.2);
    }
  });

  it('grows with fuel and with a rising load, and is unknown where they are', () => {
    const making = { fuelKgPerH: 20, loadRatio: 0.5, level: 'tier-4-egr-filter' } as const;
    const base = engineOutSootGPerS(making);
    expect(engineOutSootGPerS({ ...making, fuelKgPerH: 40 })).toBeCloseTo(2 * base, 12);
    expect(engineOutSootGPerS({ ...making, loadRisePerS: 1 })).toBeCloseTo(2 * base, 12);
    expect(engineOutSootGPerS({ ...making, loadRisePerS: -1 })).toBe(base);
    expect(caughtSootGPerS(making)).toBeCloseTo(0.98 * base, 12);
    expect(engineOutSootGPerS({ ...making, fuelKgPerH: Number.NaN })).toBeNaN();
    expect(measuredSootGPerKgFuel(Number.NaN)).toBeNaN();
    expect(sootTransientFactor(Number.NaN)).toBe(1);
    expect(sootTransientFactor(0.125)).toBeCloseTo(1.5, 12);
  });
});
