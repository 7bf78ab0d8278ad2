import {
  filterUsedRatio,
  inletRestrictionLimitKPa,
  kPaPerInchOfWater,
  ratedRestrictionKPa,
} from '@warmbrick/aftertreatment';
import { describe, expect, it } from 'vitest';

describe('US Army TM 5-3820-256-24-5: air-filter restriction at full load and rated speed, turbocharged', () => {
  it('is 6.2 kPa at most, which is 25 inches of water', () => {
    expect(inletRestrictionLimitKPa).toBe(6.2);
    expect(25 * kPaPerInchOfWater).toBeCloseTo(inletRestrictionLimitKPa, 1);
  });

  it('a filter at the limit is used up, one at 20 inches is not (usual change point 20 to 25 inches, read)', () => {
    expect(filterUsedRatio(inletRestrictionLimitKPa)).toBeCloseTo(1, 12);
    expect(filterUsedRatio(20 * kPaPerInchOfWater)).toBeLessThan(1);
    expect(filterUsedRatio(20 * kPaPerInchOfWater)).toBeGreaterThan(0.6);
  });
});

// Bernoulli: pressure drop goes with the square of the flow; by hand 1.55 kPa at half flow are 6.2 kPa at full.
it('1.55 kPa at half of the rated flow stand for 6.2 kPa', () => {
  expect(ratedRestrictionKPa(1.55, 450, 900)).toBeCloseTo(6.2, 12);
});
