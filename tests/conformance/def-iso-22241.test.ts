import {
  type DefProperty,
  defDensityKgPerM3,
  defFreezingC,
  defFreezingPointC,
  defFusionKJPerKg,
  defLifeDays,
  defLifeTable,
  defLifeUsed,
  defQualityLimits,
  frostAdvice,
  frostSafeFillRatio,
  judgeDefQuality,
  thawHeatKJ,
  thawTimeS,
} from '@warmbrick/aftertreatment';
import { describe, expect, it } from 'vitest';

const monthDays = 365.25 / 12;

describe('ISO 22241-1:2019, table 1: quality limits (read in public previews of the standard)', () => {
  // Property, lowest, highest, last printed digit.
  const table: readonly (readonly [DefProperty, number | null, number, number])[] = [
    ['ureaPct', 31.8, 33.2, 0.1],
    ['densityAt20KgPerM3', 1087.0, 1093.0, 0.1],
    ['refractiveIndexAt20', 1.3814, 1.3843, 0.0001],
    ['alkalinityPct', null, 0.2, 0.1],
    ['biuretPct', null, 0.3, 0.1],
    ['aldehydesMgPerKg', null, 5, 1],
    ['insolublesMgPerKg', null, 20, 1],
    ['phosphateMgPerKg', null, 0.5, 0.1],
    ['aluminiumMgPerKg', null, 0.5, 0.1],
    ['calciumMgPerKg', null, 0.5, 0.1],
    ['ironMgPerKg', null, 0.5, 0.1],
    ['magnesiumMgPerKg', null, 0.5, 0.1],
    ['sodiumMgPerKg', null, 0.5, 0.1],
    ['potassiumMgPerKg', null, 0.5, 0.1],
    ['copperMgPerKg', null, 0.2, 0.1],
    ['zincMgPerKg', null, 0.2, 0.1],
    ['chromiumMgPerKg', null, 0.2, 0.1],
    ['nickelMgPerKg', null, 0.2, 0.1],
  ];

  it('knows every row and no other', () => {
    expect(Object.keys(defQualityLimits).sort()).toEqual(table.map(([property]) => property).sort());
  });

  it.each(table)('%s: %s to %f meets, one digit %f beyond fails', (property, min, max, digit) => {
    expect(judgeDefQuality({ [property]: max }).verdict).toBe('meets');
    expect(judgeDefQuality({ [property]: max + digit }).breaches[0]?.side).toBe('high');
    if (min !== null) {
      expect(judgeDefQuality({ [property]: min }).verdict).toBe('meets');
      expect(judgeDefQuality({ [property]: min - digit }).breaches[0]?.side).toBe('low');
    } else {
      expect(judgeDefQuality({ [property]: 0 }).verdict).toBe('meets');
    }
  });

  // The range of density belongs to the range of concentration: the reckoned density must lie in it throughout.
  it('density at 20 C lies within 1087-1093 for every concentration within 31.8-33.2 %', () => {
    for (let pct = 31.8; pct <= 33.2; pct += 0.1) {
      const density = defDensityKgPerM3(20, pct / 100);
      expect(judgeDefQuality({ densityAt20KgPerM3: density }).verdict, `${pct} %`).toBe('meets');
    }
    expect(defDensityKgPerM3(20)).toBeCloseTo(1090, 6);
    // Clearly diluted or concentrated DEF shows in the density as well.
    expect(judgeDefQuality({ densityAt20KgPerM3: defDensityKgPerM3(20, 0.3) }).verdict).toBe('fails');
    expect(judgeDefQuality({ densityAt20KgPerM3: defDensityKgPerM3(20, 0.36) }).verdict).toBe('fails');
  });

  // Slope of 0.5 kg/m3 a kelvin: from memory. Litres against grams differ 1.4 % over 30 K: own arithmetic.
  it('density differs by 1.4 % over 30 K', () => {
    expect(1 - defDensityKgPerM3(40) / defDensityKgPerM3(10)).toBeCloseTo(0.014, 3);
  });
});

describe('ISO 22241-3 guide: storage life at constant temperature (read on a public page)', () => {
  it.each([
    [10, 36],
    [25, 18],
    [30, 12],
    [35, 6],
  ])('at %i C: %i months', (tempC, months) => {
    expect(defLifeDays(tempC) / monthDays).toBeCloseTo(months, 6);
    expect(defLifeTable.find((row) => row.tempC === tempC)?.months).toBe(months);
  });

  it('is 36 months at any lower temperature, under 6 above 35 C', () => {
    for (const tempC of [-30, -11.5, 0, 9]) expect(defLifeDays(tempC) / monthDays).toBe(36);
    for (const tempC of [35.1, 40, 50]) expect(defLifeDays(tempC) / monthDays).toBeLessThan(6);
  });

  it('is never shorter than the step that the guide prints for the next warmer class', () => {
    const classes = [10, 25, 30, 35] as const;
    const months = [36, 18, 12, 6] as const;
    for (let tempC = -20; tempC <= 35; tempC += 0.5) {
      const row = classes.findIndex((limit) => tempC <= limit);
      expect(defLifeDays(tempC) / monthDays).toBeGreaterThanOrEqual((months[row] as number) - 1e-9);
    }
  });

  // Own arithmetic: 9 months at 25 C are a half, 3 months at 30 C a quarter.
  it('is used up by parts', () => {
    const used = defLifeUsed({ durationS: [9, 3].map((months) => months * monthDays * 86_400), tempC: [25, 30] });
    expect(used.usedRatio).toBeCloseTo(0.75, 9);
  });
});

describe('freezing of DEF', () => {
  it('begins at -11.5 C (encyclopaedia page on AUS 32), in advice to users "-11 C / 12 F"', () => {
    expect(defFreezingPointC).toBe(-11.5);
    expect(defFreezingC(0.325)).toBe(-11.5);
    expect(Math.abs((12 - 32) / 1.8 - defFreezingPointC)).toBeLessThan(0.5);
  });

  // 7 % growth, read in several pages of advice to users; the rest is own arithmetic.
  it('leaves room below 93.5 %', () => {
    expect(frostSafeFillRatio * 100).toBeCloseTo(93.46, 2);
    expect(frostSafeFillRatio * 1.07).toBeCloseTo(1, 12);
    expect(frostAdvice(0.94, -15)).toBe('burst-risk');
    expect(frostAdvice(0.93, -15)).not.toBe('burst-risk');
  });

  // Common practice: about a quarter in the tank at the end of the shift.
  it('leaves about a quarter', () => expect(frostAdvice(0.25, -20)).toBe('about-a-quarter'));

  it('melts at 294 kJ a litre: 270 kJ/kg read, times 1.09 kg/L', () => {
    expect(defFusionKJPerKg * 1.09).toBeCloseTo(294.3, 6);
    expect(thawHeatKJ(1, -11.5, -11.499)).toBeCloseTo(294.3, 1);
  });

  // By hand: 1.09 kg x (2.0 x 8.5 + 270 + 3.51 x 21.5) kJ = 395.1 kJ; at 300 W 1317 s. The liquid is warmed from -11.5, not
  // from 0 C; leaving out those 11.5 K would give 1170 s.
  it('one litre from -20 to +10 C with 300 W net takes 1317 s', () => {
    expect(thawTimeS({ litres: 1, startTempC: -20, endTempC: 10, netHeatW: 300 })).toBeCloseTo(1317, 0);
  });
});
