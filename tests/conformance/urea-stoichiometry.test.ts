import {
  ammoniaGPerGDef,
  ammoniaGPerGNox,
  ammoniaShareRatio,
  defGPerGNox,
  defToFuelRatio,
  expectedDefGPerH,
  no2GPerGSoot,
  no2SootCapGPerS,
  noxConvertedByDefG,
  noxGPerH,
  noxRemovedGPerKWh,
} from '@warmbrick/aftertreatment';
import { describe, expect, it } from 'vitest';

// Standard atomic masses, g/mol (IUPAC, rounded to three digits behind the point).
const [H, C, N, O] = [1.008, 12.011, 14.007, 15.999];
const urea = C + O + 2 * (N + 2 * H);
const ammonia = N + 3 * H;
const nitrogenDioxide = N + 2 * O;

/** Within half of the last digit that is printed. */
const printed = (value: number, print: string) => {
  const digits = (print.split('.')[1] ?? '').length;
  expect(Math.abs(value - Number(print)), `${value} against ${print}`).toBeLessThanOrEqual(0.5001 * 10 ** -digits);
};

describe('(NH2)2CO + H2O -> 2 NH3 + CO2; 4 NH3 + 4 NO + O2 -> 4 N2 + 6 H2O: by hand from atomic masses', () => {
  it('one urea gives two ammonia, and each takes one NO', () => {
    expect(defGPerGNox).toBeCloseTo(urea / (2 * nitrogenDioxide) / 0.325, 3);
    expect(ammoniaGPerGDef).toBeCloseTo((0.325 * 2 * ammonia) / urea, 5);
    expect(ammoniaGPerGNox).toBeCloseTo(ammonia / nitrogenDioxide, 4);
    // The nitrogen balance: DEF for a gram of NOx carries just the ammonia for that gram.
    expect(defGPerGNox * ammoniaGPerGDef).toBeCloseTo(ammoniaGPerGNox, 9);
  });

  // Domain notes, section 4.2 (own arithmetic).
  it('gives the printed figures', () => {
    printed(defGPerGNox, '2.008');
    printed(defGPerGNox / 1.09, '1.842');
    printed(noxConvertedByDefG(1), '0.498');
    printed(ammoniaGPerGDef, '0.1843');
    printed(ammoniaGPerGNox, '0.370');
    printed(ammoniaShareRatio(0.25), '0.769');
  });
});

describe('worked examples (domain notes, section 4.2; own arithmetic)', () => {
  it('640 kg/h with 800 ppm carry 818 g/h NOx; 95 % of it take 1560 g/h DEF', () => {
    printed(noxGPerH(640, 800), '818');
    const defGPerH = expectedDefGPerH({ noxInGPerH: noxGPerH(640, 800), conversionRatio: 0.95 });
    expect(Math.round(defGPerH / 10) * 10).toBe(1560);
    // Measured on one tractor at that work: 1680 to 1870 g/h. Such a surplus is an ammonia ratio of 1.08 to 1.20.
    const surplus = (ratio: number) =>
      expectedDefGPerH({ noxInGPerH: noxGPerH(640, 800), conversionRatio: 0.95, ammoniaToNoxRatio: ratio });
    expect(surplus(1.08)).toBeGreaterThan(1680);
    expect(surplus(1.2)).toBeGreaterThan(1870);
  });

  it.each([
    [1, 215, '0.716'],
    [8.0 - 0.3, 215, '5.51'],
    [3.5 - 0.3, 215, '2.29'],
  ])('%f g/kWh at %i g/kWh fuel take %s %% DEF by volume of fuel', (removed, fuelGPerKWh, print) => {
    printed(100 * defToFuelRatio(removed, fuelGPerKWh), print);
  });

  it('6.0 % DEF stand for 8.4 g/kWh', () => printed(noxRemovedGPerKWh(0.06, 215), '8.4'));

  // Measured, one Stage V tractor over 2.1 h: 1.677 kg DEF on 22.33 L fuel.
  it('the tractor that used 6.9 % by volume took out between 8 and 11 g/kWh, as an engine without recirculation makes', () => {
    const ratio = 1.677 / 1.09 / 22.33;
    printed(100 * ratio, '6.9');
    const removed = noxRemovedGPerKWh(ratio, 225.7);
    expect(removed).toBeGreaterThan(8);
    expect(removed).toBeLessThan(11);
  });

  it('C + 2 NO2 -> CO2 + 2 NO takes 7.66 g NO2 a gram; 640 kg/h with 200 ppm NO2 burn 26.7 g/h at most', () => {
    expect(no2GPerGSoot).toBeCloseTo((2 * nitrogenDioxide) / C, 3);
    printed(no2GPerGSoot, '7.66');
    printed(no2SootCapGPerS(640, 200e-6) * 3600, '26.7');
  });
});
