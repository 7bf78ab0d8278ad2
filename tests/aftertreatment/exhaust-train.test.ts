import {
  airFlowKgPerH,
  brickTauS,
  energyBalanceTempC,
  exhaustFlowFromFuelKgPerH,
  secondsToReach,
  stepExhaustTrain,
  stepTowardsC,
  stepTurbineMetalC,
  type TrainInput,
  type TrainTemps,
} from '@warmbrick/aftertreatment';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';

const number = (min: number, max: number) => fc.double({ min, max, noNaN: true });
const tempC = number(-60, 1100);
const temps: fc.Arbitrary<TrainTemps> = fc.record({ filterTempC: tempC, scrTempC: tempC });
const input: fc.Arbitrary<TrainInput> = fc.record({
  gasTempC: tempC,
  exhaustKgPerH: fc.oneof(fc.constant(0), number(0, 3000)),
  ambientC: number(-60, 60),
  elapsedS: number(0.1, 600),
});
const train = fc.record({
  filter: fc.record({ heatCapacityKJPerK: number(1, 50), lossWPerK: number(0, 20) }),
  scr: fc.record({ heatCapacityKJPerK: number(1, 50), lossWPerK: number(0, 20) }),
});
const alike = { heatCapacityKJPerK: 10, lossWPerK: 4 };

describe('two bricks in series', () => {
  it('are the same in one step as in two', () => {
    fc.assert(
      fc.property(temps, input, train, number(0.01, 0.99), (from, at, bricks, share) => {
        const once = stepExhaustTrain(from, at, bricks);
        const half = stepExhaustTrain(from, { ...at, elapsedS: at.elapsedS * share }, bricks);
        const twice = stepExhaustTrain(half, { ...at, elapsedS: at.elapsedS * (1 - share) }, bricks);
        expect(Math.abs(once.filterTempC - twice.filterTempC)).toBeLessThan(1e-9);
        expect(Math.abs(once.scrTempC - twice.scrTempC)).toBeLessThan(1e-9);
      }),
      { numRuns: 2000 },
    );
  });

  it('stay between the coldest and the hottest of what went in', () => {
    fc.assert(
      fc.property(temps, input, train, number(0.1, 1e6), (from, at, bricks, elapsedS) => {
        const next = stepExhaustTrain(from, { ...at, elapsedS }, bricks);
        const gas = at.exhaustKgPerH > 0 ? [at.gasTempC] : [];
        const all = [from.filterTempC, from.scrTempC, at.ambientC, ...gas];
        for (const value of [next.filterTempC, next.scrTempC]) {
          expect(value).toBeGreaterThanOrEqual(Math.min(...all) - 1e-9);
          expect(value).toBeLessThanOrEqual(Math.max(...all) + 1e-9);
        }
      }),
      { numRuns: 1000 },
    );
  });

  it('never get colder from hotter gas', () => {
    fc.assert(
      fc.property(temps, input, train, number(0, 100), (from, at, bricks, more) => {
        const base = stepExhaustTrain(from, at, bricks);
        const hotter = stepExhaustTrain(from, { ...at, gasTempC: at.gasTempC + more }, bricks);
        expect(hotter.filterTempC).toBeGreaterThanOrEqual(base.filterTempC - 1e-9);
        expect(hotter.scrTempC).toBeGreaterThanOrEqual(base.scrTempC - 1e-9);
      }),
    );
  });

  it('agree with many small steps of the plain equations, for bricks alike and not', () => {
    for (const bricks of [
      { filter: alike, scr: alike },
      { filter: alike, scr: { heatCapacityKJPerK: 3, lossWPerK: 0 } },
    ]) {
      const at = { gasTempC: 400, exhaustKgPerH: 300, ambientC: 10, elapsedS: 120 };
      const flow = (300 / 3.6) * 1.089;
      let [filterC, scrC] = [50, 30];
      for (let i = 0; i < 120_000; i++) {
        const first =
          (flow * (400 - filterC) + bricks.filter.lossWPerK * (10 - filterC)) / bricks.filter.heatCapacityKJPerK;
        const second = (flow * (filterC - scrC) + bricks.scr.lossWPerK * (10 - scrC)) / bricks.scr.heatCapacityKJPerK;
        filterC += first * 1e-6;
        scrC += second * 1e-6;
      }
      const next = stepExhaustTrain({ filterTempC: 50, scrTempC: 30 }, at, bricks);
      expect(next.filterTempC).toBeCloseTo(filterC, 1);
      expect(next.scrTempC).toBeCloseTo(scrC, 1);
    }
  });

  it('without flow or loss keep their heat, and stand still where something is unknown', () => {
    const from = { filterTempC: 300, scrTempC: 200 };
    const at = { gasTempC: 400, exhaustKgPerH: 0, ambientC: 10, elapsedS: 60 };
    const tight = { heatCapacityKJPerK: 10, lossWPerK: 0 };
    expect(stepExhaustTrain(from, at, { filter: tight, scr: tight })).toEqual(from);
    expect(brickTauS(tight, 0)).toBe(Number.POSITIVE_INFINITY);
    // Nothing flows, so the gas need not be known.
    expect(stepExhaustTrain(from, { ...at, gasTempC: Number.NaN }).filterTempC).toBeLessThan(300);
    for (const key of ['gasTempC', 'exhaustKgPerH', 'ambientC', 'elapsedS'] as const) {
      expect(stepExhaustTrain(from, { ...at, exhaustKgPerH: 300, [key]: Number.NaN }), key).toBe(from);
    }
    expect(stepExhaustTrain(from, { ...at, exhaustKgPerH: -1 })).toBe(from);
    expect(stepExhaustTrain(from, { ...at, elapsedS: 0 })).toBe(from);
  });
});

describe('a lagging temperature', () => {
  it('is the same in one step as in two, and reaches a value when it says', () => {
    fc.assert(
      fc.property(
        tempC,
        tempC,
        number(0.1, 600),
        number(1, 1000),
        number(0.01, 0.99),
        (from, target, s, tauS, share) => {
          const once = stepTowardsC(from, target, { elapsedS: s, tauS });
          const half = stepTowardsC(from, target, { elapsedS: s * share, tauS });
          expect(Math.abs(once - stepTowardsC(half, target, { elapsedS: s * (1 - share), tauS }))).toBeLessThan(1e-9);
          fc.pre(Math.abs(from - target) > 1 && s < 5 * tauS);
          expect(secondsToReach(from, once, { targetC: target, tauS }) as number).toBeCloseTo(s, 4);
        },
      ),
    );
  });

  it('says 0, null and stands still', () => {
    expect(secondsToReach(200, 200, { targetC: 100, tauS: 60 })).toBe(0);
    expect(secondsToReach(200, 90, { targetC: 100, tauS: 60 })).toBeNull();
    expect(secondsToReach(200, 100, { targetC: 100, tauS: 60 })).toBeNull();
    expect(secondsToReach(200, 250, { targetC: 100, tauS: 60 })).toBeNull();
    expect(secondsToReach(Number.NaN, 250, { targetC: 300, tauS: 60 })).toBeNull();
    expect(stepTowardsC(200, 100, { elapsedS: 10, tauS: 0 })).toBe(100);
    expect(stepTowardsC(200, 100, { elapsedS: 10, tauS: Number.POSITIVE_INFINITY })).toBe(200);
    for (const [target, elapsedS, tauS] of [
      [Number.NaN, 1, 1],
      [100, Number.NaN, 1],
      [100, 1, Number.NaN],
      [100, 0, 1],
    ] as const) {
      expect(stepTowardsC(200, target, { elapsedS, tauS })).toBe(200);
    }
  });

  it('of the turbine follows the gas in 75 s and cools over the better part of an hour when stopped', () => {
    const running = stepTurbineMetalC(100, { gasTempC: 400, ambientC: 20, elapsedS: 75 });
    expect(running).toBeCloseTo(400 - 300 / Math.E, 9);
    const stopped = stepTurbineMetalC(400, { gasTempC: null, ambientC: 20, elapsedS: 2400 });
    expect(stopped).toBeCloseTo(20 + 380 / Math.E, 9);
    expect(stepTurbineMetalC(400, { gasTempC: Number.NaN, ambientC: 20, elapsedS: 60 })).toBe(400);
  });
});

describe('exhaust temperature from energy', () => {
  const work = { fuelKgPerH: 22.8, exhaustKgPerH: 639, ambientC: 20 };

  it('is finite and at least ambient, and rises with fuel at a given flow', () => {
    fc.assert(
      fc.property(number(0, 100), number(1, 3000), number(-60, 60), number(0, 20), (fuel, flow, ambientC, more) => {
        const at = { fuelKgPerH: fuel, exhaustKgPerH: flow, ambientC };
        const here = energyBalanceTempC(at);
        expect(here).toBeGreaterThanOrEqual(ambientC);
        expect(here).toBeLessThanOrEqual(1100);
        expect(energyBalanceTempC({ ...at, fuelKgPerH: fuel + more })).toBeGreaterThanOrEqual(here - 1e-9);
      }),
    );
  });

  it('says ambient without fuel and NaN where something is unknown', () => {
    expect(energyBalanceTempC({ ...work, fuelKgPerH: 0 })).toBe(20);
    expect(energyBalanceTempC({ ...work, exhaustKgPerH: 0 })).toBeNaN();
    for (const key of ['fuelKgPerH', 'exhaustKgPerH', 'ambientC'] as const) {
      expect(energyBalanceTempC({ ...work, [key]: Number.NaN }), key).toBeNaN();
    }
    expect(energyBalanceTempC({ ...work, heatShareRatio: 0.28 })).toBeGreaterThan(energyBalanceTempC(work));
  });

  it('takes the flow from fuel and load, or from what the engine breathes', () => {
    expect(exhaustFlowFromFuelKgPerH(10, 0)).toBe(560);
    expect(exhaustFlowFromFuelKgPerH(10, 1)).toBe(230);
    expect(exhaustFlowFromFuelKgPerH(10, 2)).toBe(230);
    expect(exhaustFlowFromFuelKgPerH(10, Number.NaN)).toBeNaN();
    // 6.7 L at 900 rpm and 0.9 filling breathes 163 m3/h; air at 101.3 kPa and 25 C weighs 1.184 kg/m3.
    const idle = { displacementL: 6.7, speedRpm: 900, intakeKPa: 101.3, intakeTempC: 25 };
    expect(airFlowKgPerH(idle)).toBeCloseTo(162.81 * 1.1839, 0);
    expect(airFlowKgPerH({ ...idle, speedRpm: Number.NaN })).toBeNaN();
  });
});
