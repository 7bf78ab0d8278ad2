import { sootRateByNo2PerS, sootRateByO2PerS, steadyTurbineOutTempC } from '@warmbrick/aftertreatment';
import { describe, expect, it } from 'vitest';

/** Half-life in minutes of a first-order rate. */
const halfLifeMin = (ratePerS: number) => Math.LN2 / ratePerS / 60;

describe('soot oxidation: half-lives of the lumped model (own arithmetic from the equations of the domain notes, 2.3)', () => {
  it.each([
    [450, 839.6],
    [500, 167.25],
    [550, 40.53],
    [600, 11.55],
    [650, 3.77],
  ])('oxygen 10 %% at %i C: %f min', (tempC, minutes) => {
    expect(halfLifeMin(sootRateByO2PerS(tempC, 0.1)) / minutes).toBeCloseTo(1, 2);
  });

  it.each([
    [250, 704.67],
    [300, 211.52],
    [350, 77.02],
    [400, 32.58],
    [450, 15.53],
  ])('NO2 300 ppm at %i C: %f min', (tempC, minutes) => {
    expect(halfLifeMin(sootRateByNo2PerS(tempC, 300e-6)) / minutes).toBeCloseTo(1, 2);
  });
});

describe('soot oxidation: bounds from published kinetics', () => {
  // Activation energies of diesel soot by O2 between 110 (Kim 2005, ES&T 39, 4021) and 165 kJ/mol (Neeft 1997, from memory).
  it('O2: k(600 C) / k(550 C) lies within 2.5-4.0', () => {
    const ratio = sootRateByO2PerS(600, 0.1) / sootRateByO2PerS(550, 0.1);
    expect(ratio).toBeGreaterThan(2.5);
    expect(ratio).toBeLessThan(4.0);
  });

  // Shrivastava 2010: 46.5 kJ/mol; thermogravimetric studies about 60 kJ/mol (from memory).
  it('NO2: k(350 C) / k(300 C) lies within 2.18-2.8', () => {
    const ratio = sootRateByNo2PerS(350, 300e-6) / sootRateByNo2PerS(300, 300e-6);
    expect(ratio).toBeGreaterThan(2.18);
    expect(ratio).toBeLessThan(2.8);
  });

  // Comptes Rendus Chimie 17 (2014) 672: C-NO2 dominates at 300-450 C, direct O2 contributes above. That NO2 drops out above
  // 600 C is a matter of how much NO2 there is at that heat, which is an argument of the rate and not in it.
  it('NO2 dominates at 300-450 C and O2 gains on it all the way up', () => {
    let before = 0;
    for (const tempC of [300, 350, 400, 450, 500, 550, 600, 650]) {
      const share = sootRateByO2PerS(tempC, 0.1) / sootRateByNo2PerS(tempC, 300e-6);
      if (tempC <= 450) expect(share).toBeLessThan(0.1);
      expect(share).toBeGreaterThan(before);
      before = share;
    }
  });
});

describe('exhaust temperature behind the turbine: measured map of engine B (ORNL, in NREL ADVISOR data)', () => {
  it.each([
    [0, 129],
    [10, 183],
    [25, 243],
    [50, 316],
    [75, 392],
    [100, 454],
  ])('at %i %% load, 1600 rpm: %i C', (loadPct, tempC) => {
    expect(steadyTurbineOutTempC(loadPct)).toBe(tempC);
  });

  it('rises with load and takes any load', () => {
    expect(steadyTurbineOutTempC(33)).toBeGreaterThan(steadyTurbineOutTempC(25));
    expect(steadyTurbineOutTempC(-5)).toBe(129);
    expect(steadyTurbineOutTempC(Number.NaN)).toBe(129);
    expect(steadyTurbineOutTempC(125)).toBe(454);
  });
});
