import { cleanDropKPa, filterDropKPa, filterFlowRatio, sootFromDropGPerL } from '@warmbrick/aftertreatment';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';

const positive = (max: number) => fc.double({ min: 0.05, max, noNaN: true });

describe('pressure drop of a filter', () => {
  it('is the clean drop at rated flow, 350 C and no soot (by definition)', () => {
    expect(filterFlowRatio(600, 600, 350)).toBeCloseTo(1, 12);
    expect(filterDropKPa(4, 1, 0)).toBeCloseTo(4, 12);
  });

  it('grows by half the clean wall for a gram a litre: 4 g/L triple the wall, 70 % of the drop (own arithmetic)', () => {
    expect(filterDropKPa(4, 1, 4)).toBeCloseTo(4 * (0.7 * 3 + 0.3), 12);
  });

  it('hotter gas of the same mass drops more: volume by T, viscosity by T^0.7 (Darcy; ideal gas)', () => {
    // From 623.15 to 773.15 K: 1.2407^1.7 = 1.4430.
    const wantedRatio = 1.2407 ** 1.7;
    expect(filterFlowRatio(600, 600, 500)).toBeCloseTo(wantedRatio, 3);
  });

  it('gives back clean drop and soot that made it', () => {
    fc.assert(
      fc.property(positive(20), positive(1.5), fc.double({ min: 0, max: 12, noNaN: true }), (cleanKPa, ratio, soot) => {
        const dropKPa = filterDropKPa(cleanKPa, ratio, soot);
        expect(cleanDropKPa(dropKPa, ratio, soot)).toBeCloseTo(cleanKPa, 9);
        expect(sootFromDropGPerL(dropKPa, cleanKPa, ratio)).toBeCloseTo(soot, 6);
      }),
    );
  });

  it('knows nothing from nothing', () => {
    expect(filterFlowRatio(Number.NaN, 600, 350)).toBeNaN();
    expect(sootFromDropGPerL(Number.NaN, 4, 1)).toBeNaN();
  });
});
