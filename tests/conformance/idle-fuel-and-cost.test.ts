import { idleCostPerH, idleFuelLPerH } from '@warmbrick/aftertreatment';
import { describe, expect, it } from 'vitest';

const litresPerGallon = 3.785411784;

describe('US Department of Energy, Fact #861: idle fuel without accessories', () => {
  // The rule is good to a third; a 6-10 litre truck is taken at its middle, 8 litres, and lies lowest.
  it.each([
    ['2-litre diesel car', 2, 0.17, 0.35],
    ['truck of 6 to 10 litres', 8, 0.44, 0.45],
  ])('%s: %i L, %f gal/h', (_, displacementL, gallonsPerH, tolerance) => {
    const ratio = idleFuelLPerH(displacementL) / (gallonsPerH * litresPerGallon);
    expect(Math.abs(ratio - 1)).toBeLessThan(tolerance);
  });

  it('0.44 gal/h lies 8 % under the rule even for the smallest engine it speaks of: the rule reads high for trucks', () => {
    const ratio = idleFuelLPerH(6) / (0.44 * litresPerGallon);
    expect(ratio).toBeGreaterThan(1.05);
    expect(ratio).toBeLessThan(1.1);
  });
});

describe('one farm tractor, measured: 2.03 L/h at low idle, 6 to 7 litres', () => {
  it('lies within a tenth of the rule', () => {
    expect(idleFuelLPerH(6.5)).toBeGreaterThan(2.03 * 0.9);
    expect(idleFuelLPerH(6.5)).toBeLessThan(2.03 * 1.1);
  });

  // Own arithmetic: 2.03 x 1.20 + 15 = 17.436.
  it('costs 17.4 an hour at 1.20 a litre and 15 for the hour', () => {
    expect(idleCostPerH({ fuelLPerH: 2.03, fuelPricePerL: 1.2, hourPrice: 15 })).toBeCloseTo(17.436, 9);
  });
});
