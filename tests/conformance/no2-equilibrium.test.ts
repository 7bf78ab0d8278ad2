/** NO2 behind the oxidation catalyst against chemical equilibrium. */

import { no2OfNoxRatio, no2SootCapGPerS } from '@warmbrick/aftertreatment';
import { describe, expect, it } from 'vitest';

/**
 * Standard enthalpies of formation, kJ/mol, and entropies, J/(mol K), at 298 K: NO 91.29 and 210.76, NO2 34.19 and 240.17,
 * O2 0 and 205.15. Source: NIST-JANAF thermochemical tables, fourth edition (1998); from memory.
 */
const reactionEnthalpyJ = (34.19 - 91.29) * 1000;
const reactionEntropyJPerK = 240.17 - 210.76 - 205.15 / 2;

/** Share of NOx that is NO2 at equilibrium of NO + 1/2 O2 = NO2, at one bar; heat capacities taken as equal. */
function equilibriumRatio(tempC: number, o2Ratio: number): number {
  const tempK = tempC + 273.15;
  const constant = Math.exp(-(reactionEnthalpyJ - tempK * reactionEntropyJPerK) / (8.314 * tempK));
  const odds = constant * Math.sqrt(o2Ratio);
  return odds / (1 + odds);
}

describe('NIST-JANAF thermochemical tables: NO + 1/2 O2 = NO2 (values from memory)', () => {
  it('half of the NOx is NO2 near 420 C at 10 % oxygen, and hotter gas has less', () => {
    expect(equilibriumRatio(350, 0.1)).toBeCloseTo(0.74, 1);
    expect(equilibriumRatio(400, 0.1)).toBeCloseTo(0.56, 1);
    expect(equilibriumRatio(450, 0.1)).toBeCloseTo(0.39, 1);
    expect(equilibriumRatio(600, 0.1)).toBeLessThan(0.15);
  });

  it('the share that the model reckons with is under equilibrium up to 450 C, where NO2 does the work', () => {
    for (let tempC = 200; tempC <= 450; tempC += 10) {
      expect(no2OfNoxRatio, `${tempC} C`).toBeLessThan(equilibriumRatio(tempC, 0.1));
    }
  });
});

describe('the supply of NO2 on a measured tractor (domain notes 4.2 and 2.3: 640 kg/h, 800 ppm NOx)', () => {
  // 818 g/h NOx as NO2; its share over 7.66 g NO2 for a gram of soot.
  it('burns 37 g of soot an hour at most', () => {
    expect(no2SootCapGPerS(640, 800e-6 * no2OfNoxRatio) * 3600).toBeCloseTo((818 * no2OfNoxRatio) / 7.66, 0);
  });
});
