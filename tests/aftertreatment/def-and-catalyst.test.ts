import {
  ammoniaShareRatio,
  type DefAnalysis,
  defDensityKgPerM3,
  defFreezingC,
  defLifeDays,
  defLifeLeftDays,
  defLifeUsed,
  defToFuelRatio,
  dosedConversionRatio,
  expectedDefGPerH,
  filterUsedRatio,
  frostAdvice,
  frostSafeFillRatio,
  idleCostPerH,
  idleFuelLPerH,
  judgeDefQuality,
  measuredConversionRatio,
  noxConvertedByDefG,
  noxGPerH,
  noxRemovedGPerKWh,
  ratedRestrictionKPa,
  scrConversionRatio,
  thawHeatKJ,
  thawTimeS,
  ureaRatioFromDensity,
} from '@warmbrick/aftertreatment';
import { catalystFamilies } from '@warmbrick/signals';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';

const number = (min: number, max: number) => fc.double({ min, max, noNaN: true });
const tempC = number(-60, 1100);

describe('DEF', () => {
  it('density falls with temperature, rises with urea, and is finite for anything a sensor reports', () => {
    fc.assert(
      fc.property(tempC, number(0, 0.5), number(0, 30), number(0, 0.1), (at, urea, warmer, stronger) => {
        const here = defDensityKgPerM3(at, urea);
        expect(Number.isFinite(here)).toBe(true);
        expect(defDensityKgPerM3(at + warmer, urea)).toBeLessThanOrEqual(here);
        expect(defDensityKgPerM3(at, urea + stronger)).toBeGreaterThanOrEqual(here);
        expect(ureaRatioFromDensity(here, at)).toBeCloseTo(urea, 9);
      }),
    );
    expect(defDensityKgPerM3(Number.NaN)).toBeNaN();
    expect(ureaRatioFromDensity(1090, Number.NaN)).toBeNaN();
    expect(ureaRatioFromDensity(Number.NaN, 20)).toBeNaN();
  });

  it('freezes lowest at 32.5 %', () => {
    fc.assert(
      fc.property(number(0, 1), (urea) => {
        expect(defFreezingC(urea)).toBeGreaterThanOrEqual(defFreezingC(0.325));
      }),
    );
    expect(defFreezingC(0)).toBe(0);
    expect(defFreezingC(Number.NaN)).toBeNaN();
  });

  it('life falls with temperature without a jump, and is above nought', () => {
    fc.assert(
      fc.property(tempC, number(1e-3, 1), (at, warmer) => {
        const here = defLifeDays(at);
        expect(here).toBeGreaterThan(0);
        expect(defLifeDays(at + warmer)).toBeLessThanOrEqual(here);
        expect(defLifeDays(at + warmer) / here).toBeGreaterThan(0.85);
      }),
    );
    expect(defLifeDays(Number.NaN)).toBeNaN();
  });

  it('life used does not depend on how a history is cut, nor on its order', () => {
    const piece = fc.record({ s: number(0.1, 1e6), at: number(-60, 60) });
    fc.assert(
      fc.property(fc.array(piece, { minLength: 1, maxLength: 20 }), (pieces) => {
        const whole = defLifeUsed({ durationS: pieces.map(({ s }) => s), tempC: pieces.map(({ at }) => at) });
        const halves = [...pieces, ...pieces].reverse();
        const cut = defLifeUsed({ durationS: halves.map(({ s }) => s / 2), tempC: halves.map(({ at }) => at) });
        expect(Math.abs(cut.usedRatio - whole.usedRatio)).toBeLessThanOrEqual(1e-9 * whole.usedRatio);
        expect(Math.abs(cut.hotS - whole.hotS)).toBeLessThanOrEqual(1e-9 * whole.hotS);
      }),
    );
  });

  it('life counts unknown and hot time apart', () => {
    const history = { durationS: [100, 50, -5, Number.NaN, 10], tempC: [20, Number.NaN, 20, 20, 40] };
    const used = defLifeUsed(history);
    expect(used).toMatchObject({ unknownS: 50, hotS: 10 });
    expect(used.usedRatio).toBeCloseTo((100 / defLifeDays(20) + 10 / defLifeDays(40)) / 86_400, 15);
    expect(history.durationS).toHaveLength(5);
    expect(defLifeLeftDays(0.25, 25)).toBeCloseTo(0.75 * defLifeDays(25), 9);
    expect(defLifeLeftDays(1.5, 25)).toBe(0);
    expect(defLifeLeftDays(Number.NaN, 25)).toBeNaN();
  });

  it('frost advice goes by level, and needs none where it does not freeze', () => {
    expect(frostAdvice(Number.NaN, -5)).toBe('no-frost');
    expect(frostAdvice(0.95, -15)).toBe('burst-risk');
    expect(frostAdvice(frostSafeFillRatio, -15)).toBe('fuller-than-needed');
    expect(frostAdvice(0.25, -15)).toBe('about-a-quarter');
    expect(frostAdvice(0.05, -15)).toBe('too-low');
    expect(frostAdvice(Number.NaN, -15)).toBe('unknown');
    expect(frostAdvice(0.25, Number.NaN)).toBe('unknown');
  });

  it('thaw heat adds up along the way and is never below nought', () => {
    fc.assert(
      fc.property(number(0, 100), tempC, tempC, tempC, (litres, a, b, c) => {
        const [from, by, to] = [a, b, c].sort((x, y) => x - y) as [number, number, number];
        const whole = thawHeatKJ(litres, from, to);
        expect(whole).toBeGreaterThanOrEqual(0);
        expect(thawHeatKJ(litres, from, by) + thawHeatKJ(litres, by, to)).toBeCloseTo(whole, 4);
      }),
    );
    expect(thawHeatKJ(1, Number.NaN, 10)).toBeNaN();
    expect(thawTimeS({ litres: 1, startTempC: -20, endTempC: 10, netHeatW: 0 })).toBeNull();
    expect(thawTimeS({ litres: Number.NaN, startTempC: -20, endTempC: 10, netHeatW: 300 })).toBeNull();
    expect(thawTimeS({ litres: 1, startTempC: 20, endTempC: 10, netHeatW: 0 })).toBe(0);
  });

  it('verdict speaks only of what was measured', () => {
    expect(judgeDefQuality({})).toEqual({ verdict: 'unknown', measured: 0, breaches: [] });
    expect(judgeDefQuality({ ureaPct: Number.NaN }).verdict).toBe('unknown');
    const analysis: DefAnalysis = { ureaPct: 25, ironMgPerKg: 0.6, biuretPct: 0.1 };
    expect(judgeDefQuality(analysis)).toEqual({
      verdict: 'fails',
      measured: 3,
      breaches: [
        { property: 'ureaPct', measured: 25, side: 'low' },
        { property: 'ironMgPerKg', measured: 0.6, side: 'high' },
      ],
    });
  });

  it('dosing and what it converts are inverse to each other', () => {
    fc.assert(
      fc.property(
        number(0.1, 5000),
        number(0.1, 0.5),
        number(0.1, 12),
        number(180, 300),
        (nox, ureaRatio, removed, bsfc) => {
          const defG = expectedDefGPerH({ noxInGPerH: nox, conversionRatio: 1, ureaRatio });
          expect(noxConvertedByDefG(defG, ureaRatio) / nox).toBeCloseTo(1, 12);
          expect(noxRemovedGPerKWh(defToFuelRatio(removed, bsfc), bsfc) / removed).toBeCloseTo(1, 12);
        },
      ),
    );
    expect(expectedDefGPerH({ noxInGPerH: 1, conversionRatio: 1, ureaRatio: 0 })).toBe(Number.POSITIVE_INFINITY);
    expect(expectedDefGPerH({ noxInGPerH: Number.NaN, conversionRatio: 1 })).toBeNaN();
    expect(ammoniaShareRatio(-1)).toBe(0);
    expect(noxGPerH(Number.NaN, 100)).toBeNaN();
  });
});

describe('SCR conversion', () => {
  it('lies within 0..1, has no jump, and is never more than the ammonia allows', () => {
    fc.assert(
      fc.property(
        fc.constantFrom(...catalystFamilies),
        tempC,
        number(0, 2),
        number(0, 1),
        (family, at, anr, warmer) => {
          const here = scrConversionRatio(family, at);
          expect(here).toBeGreaterThanOrEqual(0);
          expect(here).toBeLessThanOrEqual(1);
          expect(Math.abs(scrConversionRatio(family, at + warmer) - here)).toBeLessThan(0.02);
          expect(dosedConversionRatio(family, at, anr)).toBeLessThanOrEqual(Math.min(here, anr));
          expect(scrConversionRatio('unspecified', at)).toBeLessThanOrEqual(scrConversionRatio(family, at));
        },
      ),
    );
  });

  it('is unknown where something is', () => {
    for (const family of catalystFamilies) expect(scrConversionRatio(family, Number.NaN)).toBeNaN();
    expect(dosedConversionRatio('vanadia', 300, Number.NaN)).toBeNaN();
    expect(dosedConversionRatio('vanadia', 300, -1)).toBe(0);
  });

  it('of two sensors is 1 - out / in, where enough comes in', () => {
    expect(measuredConversionRatio(800, 40)).toBeCloseTo(0.95, 12);
    expect(measuredConversionRatio(200, 300)).toBeCloseTo(-0.5, 12);
    expect(measuredConversionRatio(99, 10)).toBeNaN();
    expect(measuredConversionRatio(Number.NaN, 10)).toBeNaN();
    expect(measuredConversionRatio(500, Number.NaN)).toBeNaN();
    expect(measuredConversionRatio(500, -3)).toBe(1);
  });
});

describe('inlet and idle', () => {
  it('restriction at rated flow does not depend on the flow it was read at, if it goes with the square', () => {
    fc.assert(
      fc.property(number(0.1, 10), number(0.5, 1.2), number(100, 2000), (ratedKPa, share, ratedFlow) => {
        expect(ratedRestrictionKPa(ratedKPa * share ** 2, share * ratedFlow, ratedFlow) / ratedKPa).toBeCloseTo(1, 9);
      }),
    );
    expect(ratedRestrictionKPa(2, 400, 1000)).toBeNaN();
    expect(ratedRestrictionKPa(2, Number.NaN, 1000)).toBeNaN();
    expect(ratedRestrictionKPa(2, 800, 0)).toBeNaN();
    expect(ratedRestrictionKPa(-1, 800, 1000)).toBe(0);
  });

  it('a filter is used up from new to the limit', () => {
    expect(filterUsedRatio(2.5)).toBe(0);
    expect(filterUsedRatio(1)).toBe(0);
    expect(filterUsedRatio(6.2)).toBeCloseTo(1, 12);
    expect(filterUsedRatio(5, { newKPa: 3, limitKPa: 7 })).toBe(0.5);
    expect(filterUsedRatio(Number.NaN)).toBeNaN();
  });

  it('idle cost adds fuel, DEF and the hour', () => {
    expect(idleFuelLPerH(-1)).toBe(0);
    expect(idleFuelLPerH(Number.NaN)).toBeNaN();
    const prices = { fuelLPerH: 2, fuelPricePerL: 1.5, hourPrice: 10, defLPerH: 0.25, defPricePerL: 0.8 };
    expect(idleCostPerH(prices)).toBeCloseTo(13.2, 12);
    expect(idleCostPerH({ ...prices, fuelLPerH: Number.NaN })).toBeNaN();
  });
});
