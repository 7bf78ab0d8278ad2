import {
  applyUreaDepositStep,
  biuretDecompositionPerS,
  halfLifeMin,
  minutesUntilDepositsUnder,
  noUreaDeposits,
  sprayedWallTempC,
  totalDepositG,
  type UreaDeposits,
  ureaDecompositionPerS,
  ureaDepositRates,
  ureaDepositStep,
  ureaStickingRatio,
} from '@warmbrick/aftertreatment';
import { describe, expect, it } from 'vitest';

const pureG = (kind: keyof UreaDeposits, grams = 10): UreaDeposits => ({ ...noUreaDeposits, [kind]: grams });
const afterMinutes = (from: UreaDeposits, wallTempC: number, minutes: number) =>
  applyUreaDepositStep(from, ureaDepositStep(wallTempC, minutes * 60), 0);
const leftRatio = (from: UreaDeposits, wallTempC: number, minutes: number) =>
  totalDepositG(afterMinutes(from, wallTempC, minutes)) / totalDepositG(from);

describe('half-lives from the published rates (own arithmetic, domain notes 3.3; tolerance: the printed digits)', () => {
  const { cyanuricPerS, ammelidePerS, solublePerS } = {
    cyanuricPerS: (tempC: number) => ureaDepositRates(tempC).cyanuricPerS,
    ammelidePerS: (tempC: number) => ureaDepositRates(tempC).ammelidePerS,
    solublePerS: (tempC: number) => ureaDepositRates(tempC).solublePerS,
  };
  it.each([
    ['urea, Ebrahimian 2012', ureaDecompositionPerS, 152, 28, 0.5],
    ['urea, Ebrahimian 2012', ureaDecompositionPerS, 200, 2.6, 0.06],
    ['biuret, Ebrahimian 2012', biuretDecompositionPerS, 193, 80, 0.5],
    ['biuret, Ebrahimian 2012', biuretDecompositionPerS, 220, 2.3, 0.05],
    ['biuret, Brack 2014', solublePerS, 200, 10, 0.5],
    ['biuret, Brack 2014', solublePerS, 220, 71 / 60, 0.5 / 60],
    ['cyanuric acid', cyanuricPerS, 300, 6.4 * 60, 3],
    ['cyanuric acid', cyanuricPerS, 320, 61, 0.5],
    ['cyanuric acid', cyanuricPerS, 330, 25, 0.5],
    ['cyanuric acid', cyanuricPerS, 350, 4.8, 0.05],
    ['cyanuric acid', cyanuricPerS, 380, 29 / 60, 0.5 / 60],
    ['cyanuric acid', cyanuricPerS, 400, 7 / 60, 0.5 / 60],
    ['ammelide', ammelidePerS, 350, 53, 0.5],
    ['ammelide', ammelidePerS, 380, 7.6, 0.05],
    ['ammelide', ammelidePerS, 400, 2.3, 0.05],
    ['ammelide', ammelidePerS, 450, 9 / 60, 0.5 / 60],
  ])('%s (%o) at %i C: %f min', (_, ratePerS, tempC, minutes, tolerance) => {
    expect(Math.abs(halfLifeMin(ratePerS(tempC)) - minutes)).toBeLessThanOrEqual(tolerance);
  });
});

describe('Schaber 2004 (Thermochimica Acta): onset temperatures, read in the abstract', () => {
  // A wall of urea and biuret held for an hour.
  const cyanuricAfterAnHour = (wallTempC: number) => afterMinutes(pureG('solubleG'), wallTempC, 60).cyanuricG;

  it('no cyanuric acid below 175 C, a little above: under 5 % of the wall in an hour at 180 C', () => {
    expect(cyanuricAfterAnHour(174)).toBe(0);
    expect(cyanuricAfterAnHour(180)).toBeGreaterThan(0);
    expect(cyanuricAfterAnHour(180)).toBeLessThan(0.5);
  });

  it('its making speeds up above 190 C', () => {
    expect(cyanuricAfterAnHour(193)).toBeGreaterThan(5 * cyanuricAfterAnHour(180));
  });

  it('the making is complete at 250 C: urea and biuret are gone within minutes', () => {
    expect(afterMinutes(pureG('solubleG'), 250, 5).solubleG).toBeLessThan(0.01);
    expect(cyanuricAfterAnHour(250)).toBeCloseTo(3, 1);
  });
});

describe('Zhu 2021 (Materials 14:6190): stages of mass loss at constant temperature', () => {
  it('below 160 C molten urea hardly decomposes: most of the soluble pool outlasts an hour', () => {
    expect(afterMinutes(pureG('solubleG'), 155, 60).solubleG).toBeGreaterThan(9.5);
  });

  it('at 240 C urea and biuret are nearly gone and cyanuric acid has risen', () => {
    const held = afterMinutes(pureG('solubleG'), 240, 10);
    expect(held.solubleG).toBeLessThan(0.01);
    expect(held.cyanuricG).toBeGreaterThan(2.5);
  });

  it('cyanuric acid goes slowly from 280 C and fast above 330 C', () => {
    expect(leftRatio(pureG('cyanuricG'), 280, 60)).toBeGreaterThan(0.95);
    expect(leftRatio(pureG('cyanuricG'), 330, 60)).toBeLessThan(0.4);
    expect(halfLifeMin(ureaDepositRates(280).cyanuricPerS)).toBeGreaterThan(600);
    expect(halfLifeMin(ureaDepositRates(335).cyanuricPerS)).toBeLessThan(30);
  });

  it('the third stage, ammelide and its like, begins above 380 C', () => {
    expect(leftRatio(pureG('ammelideG'), 340, 10)).toBeGreaterThan(0.85);
    expect(leftRatio(pureG('ammelideG'), 385, 10)).toBeLessThan(0.5);
  });

  it('above 400 C next to nothing is left, given enough time', () => {
    const mixed = { solubleG: 5, cyanuricG: 5, ammelideG: 5 };
    expect(leftRatio(mixed, 405, 30)).toBeLessThan(0.01);
    expect(minutesUntilDepositsUnder(mixed, 405, 0.15) as number).toBeLessThan(20);
  });
});

describe('burn-off guidance that follows from these rates (own arithmetic, domain notes 3.4)', () => {
  it('above 350 C for 30 min takes cyanuric acid away', () => {
    expect(afterMinutes(pureG('cyanuricG'), 350, 30).cyanuricG).toBeLessThan(0.15);
  });

  it('400 C for 10 to 20 min takes ammelide away', () => {
    expect(leftRatio(pureG('ammelideG'), 400, 10)).toBeLessThan(0.06);
    expect(leftRatio(pureG('ammelideG'), 400, 20)).toBeLessThan(0.003);
  });
});

describe('Strots 2010 (SAE 2009-01-2780), read: deposits grow with lower exhaust temperature and higher dosing', () => {
  /** Grams after an hour of dosing at a steady gas temperature; DEF in g/h. */
  const grownG = (gasTempC: number, defGPerH: number) => {
    const wallTempC = sprayedWallTempC(gasTempC, 1);
    const stickingGPerS = ((defGPerH * 0.325) / 3600) * ureaStickingRatio(wallTempC);
    return totalDepositG(applyUreaDepositStep(noUreaDeposits, ureaDepositStep(wallTempC, 3600), stickingGPerS));
  };

  it('grow faster the colder the exhaust, from 400 down to 200 C', () => {
    const grown = [400, 350, 300, 250, 200].map((gasTempC) => grownG(gasTempC, 500));
    expect(grown.every((grams, i) => i === 0 || grams > (grown[i - 1] as number))).toBe(true);
  });

  it('grow faster the more is dosed', () => {
    for (const gasTempC of [200, 250, 300]) expect(grownG(gasTempC, 800)).toBeGreaterThan(grownG(gasTempC, 400));
  });
});

// With a heated mixer less than 1 % of the DEF stays near 200 C (read: SAE abstract of 2024): without one it must be more.
it('an unheated wall near 200 C keeps more of the DEF than a heated mixer does', () => {
  expect(ureaStickingRatio(200) * 0.325).toBeGreaterThan(0.01);
});
