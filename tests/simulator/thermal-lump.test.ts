import { stepLump } from '@warmbrick/simulator';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';

/** Train of 22.5 kJ/K behind a tractor engine: 138 kg/h at idle, 639 kg/h at work. Source: domain notes 5.3. */
const idle = {
  gasTempC: 130,
  ambientTempC: 20,
  flowKgPerH: 138,
  cpKJPerKgK: 1.05,
  heatCapacityKJPerK: 22.5,
  lossWPerK: 0,
};
const work = { ...idle, gasTempC: 380, flowKgPerH: 639, cpKJPerKgK: 1.1 };

describe('one lump of the exhaust train, worked values of T(t) = Tgas + (T0 - Tgas) exp(-t m cp / Mc)', () => {
  it.each([
    { elapsedS: 71.46, tempC: 350 },
    { elapsedS: 120, tempC: 331.7 },
    { elapsedS: 300, tempC: 276.17 },
    { elapsedS: 410.29, tempC: 250 },
    { elapsedS: 711.6, tempC: 200 },
  ])('cools from 380 degC in idle gas of 130 degC to $tempC after $elapsedS s', ({ elapsedS, tempC }) => {
    expect(stepLump({ ...idle, tempC: 380, elapsedS })).toBeCloseTo(tempC, 1);
  });

  it.each([
    { elapsedS: 79.88, tempC: 200 },
    { elapsedS: 117.38, tempC: 250 },
    { elapsedS: 286.35, tempC: 350 },
  ])('warms from 20 degC in gas of 380 degC at work to $tempC after $elapsedS s', ({ elapsedS, tempC }) => {
    expect(stepLump({ ...work, tempC: 20, elapsedS })).toBeCloseTo(tempC, 1);
  });

  it('with idle gas of 130 degC never reaches 200 degC', () => {
    expect(stepLump({ ...idle, tempC: 20, elapsedS: 86_400 })).toBeLessThanOrEqual(130);
  });

  it('gives the same answer in one step or in many', () => {
    fc.assert(
      fc.property(
        fc.record({
          tempC: fc.double({ min: -40, max: 700, noNaN: true }),
          gasTempC: fc.double({ min: -40, max: 700, noNaN: true }),
          flowKgPerH: fc.double({ min: 0, max: 2000, noNaN: true }),
          lossWPerK: fc.double({ min: 0, max: 50, noNaN: true }),
        }),
        fc.integer({ min: 1, max: 600 }),
        (given, seconds) => {
          const whole = { ...idle, ...given };
          let tempC = whole.tempC;
          for (let i = 0; i < seconds; i++) tempC = stepLump({ ...whole, tempC, elapsedS: 1 });
          expect(tempC).toBeCloseTo(stepLump({ ...whole, elapsedS: seconds }), 6);
        },
      ),
    );
  });

  it('stays where it is without flow and without loss', () => {
    expect(stepLump({ ...idle, tempC: 312, flowKgPerH: 0, elapsedS: 1000 })).toBe(312);
  });
});
