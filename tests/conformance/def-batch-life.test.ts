import { defBatchLife } from '@warmbrick/analysis';
import { describe, expect, it } from 'vitest';

const monthMs = (365.25 / 12) * 86_400_000;
const purchasedMs = Date.UTC(2026, 0, 1);

// Source: guide of ISO 22241-3 to storage life, read on a public page; see libs/aftertreatment.
describe('ISO 22241-3, guide to storage life, for a batch at one temperature', () => {
  it.each([
    [10, 36],
    [25, 18],
    [30, 12],
    [35, 6],
  ])('at %d degC it is good for %d months', (storageTempC, months) => {
    const life = defBatchLife({ purchasedMs, storageTempC }, purchasedMs);
    expect((life.goodUntilMs - purchasedMs) / monthMs).toBeCloseTo(months, 6);
    expect(defBatchLife({ purchasedMs, storageTempC }, purchasedMs + months * monthMs + 1).state).toBe('past');
    expect(defBatchLife({ purchasedMs, storageTempC }, purchasedMs + 0.85 * months * monthMs).state).toBe('use-soon');
    expect(defBatchLife({ purchasedMs, storageTempC }, purchasedMs + 0.5 * months * monthMs)).toMatchObject({
      state: 'good',
      usedRatio: 0.5,
    });
  });

  it('above 35 degC it is to be tested before use', () => {
    expect(defBatchLife({ purchasedMs, storageTempC: 36 }, purchasedMs).isTooWarm).toBe(true);
    expect(defBatchLife({ purchasedMs, storageTempC: 35 }, purchasedMs).isTooWarm).toBe(false);
  });
});
