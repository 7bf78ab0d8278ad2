import {
  compareWithClass,
  findChange,
  fisherChance,
  outlierZ,
  percentileOf,
  robustZOf,
  supF1Pct,
  valueAtPercentile,
} from '@warmbrick/analysis';
import fc from 'fast-check';
import { mean, median, medianAbsoluteDeviation, sampleStandardDeviation } from 'simple-statistics';
import { describe, expect, it } from 'vitest';

// Source: NIST Statistical Reference Datasets, univariate summary statistics; certified mean and standard deviation of the
// made-up sets NumAcc1 to NumAcc4. The rule that makes each set is from memory; that it gives the certified values is exact arithmetic.
describe('NIST StRD, univariate: what a mean and a deviation have to survive', () => {
  /** One value in the middle, then 500 pairs a tenth below and a tenth above. */
  const pairs = (middle: number) => [
    middle,
    ...Array.from({ length: 1000 }, (_, i) => (i % 2 === 0 ? middle - 0.1 : middle + 0.1)),
  ];
  it.each([
    { name: 'NumAcc1', values: [10_000_001, 10_000_003, 10_000_002], certified: [10_000_002, 1], digits: 9 },
    { name: 'NumAcc2', values: pairs(1.2), certified: [1.2, 0.1], digits: 9 },
    { name: 'NumAcc3', values: pairs(1_000_000.2), certified: [1_000_000.2, 0.1], digits: 7 },
    { name: 'NumAcc4', values: pairs(10_000_000.2), certified: [10_000_000.2, 0.1], digits: 6 },
  ])('$name', ({ values, certified, digits }) => {
    expect(mean(values)).toBeCloseTo(certified[0] as number, digits);
    expect(sampleStandardDeviation(values)).toBeCloseTo(certified[1] as number, digits);
  });
});

// Source: NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.6.2 Percentiles: twelve resistivities of wafers, read in
// public copies of the example; place 0.9 x 13 = 11.7, so 95.1959 + 0.7 (95.1990 - 95.1959) = 95.1981.
describe('NIST e-Handbook 7.2.6.2, percentiles', () => {
  const wafers = [
    95.1772, 95.1567, 95.1937, 95.1959, 95.1442, 95.061, 95.1591, 95.1195, 95.1065, 95.0925, 95.199, 95.1682,
  ];
  it('puts the 90th percentile of the wafers at 95.1981', () => {
    expect(valueAtPercentile(wafers, 90)).toBeCloseTo(95.1981, 4);
  });

  it('ends at the smallest and the largest value', () => {
    expect(valueAtPercentile(wafers, 1)).toBe(95.061);
    expect(valueAtPercentile(wafers, 99)).toBe(95.199);
    expect(valueAtPercentile([], 50)).toBeNaN();
    expect(valueAtPercentile([7], 50)).toBe(7);
  });
});

// Source: Iglewicz and Hoaglin, "How to Detect and Handle Outliers" (1993), as given in NIST e-Handbook 1.3.5.17: M = 0.6745
// (x - median) / MAD, outliers beyond 3.5. The formula and the limit were read on public pages; the list of seven is the usual
// worked example of the median absolute deviation in encyclopaedias, from memory.
describe('modified z-score', () => {
  const seven = [1, 1, 2, 2, 4, 6, 9];
  it('has a median of 2 and a median absolute deviation of 1 in the usual example', () => {
    expect(median(seven)).toBe(2);
    expect(medianAbsoluteDeviation(seven)).toBe(1);
    expect(robustZOf(9, seven)).toBeCloseTo(0.6745 * 7, 10);
    expect(outlierZ).toBe(3.5);
  });

  it('changes nothing that is passed in, and knows no score without spread', () => {
    const unsorted = [9, 1, 6, 2, 1, 4, 2];
    const before = [...unsorted];
    expect(robustZOf(9, unsorted)).toBe(robustZOf(9, seven));
    expect(unsorted).toEqual(before);
    expect(robustZOf(5, [3, 3, 3, 3, 9])).toBeNull();
    expect(robustZOf(5, [])).toBeNull();
  });
});

// Source: R. A. Fisher, "The Design of Experiments" (1935), the lady tasting tea: eight cups, four of each kind. Picking all four
// right by chance is 1 in 70, three or more 17 in 70.
describe('Fisher, exact test', () => {
  it('gives the chances of the lady tasting tea', () => {
    expect(fisherChance({ hits: 4, drawn: 4, marked: 4, all: 8 })).toBeCloseTo(1 / 70, 12);
    expect(fisherChance({ hits: 3, drawn: 4, marked: 4, all: 8 })).toBeCloseTo(17 / 70, 12);
    expect(fisherChance({ hits: 0, drawn: 4, marked: 4, all: 8 })).toBeCloseTo(1, 12);
  });

  it('is a chance, and falls with every further hit', () => {
    fc.assert(
      fc.property(fc.nat(30), fc.nat(30), fc.nat(30), (drawn, marked, extra) => {
        const all = Math.max(drawn, marked) + extra;
        let before = 1 + 1e-9;
        for (let hits = 0; hits <= Math.min(drawn, marked); hits++) {
          const chance = fisherChance({ hits, drawn, marked, all });
          expect(chance).toBeLessThanOrEqual(before + 1e-9);
          expect(chance).toBeGreaterThanOrEqual(0);
          before = chance;
        }
      }),
    );
  });
});

// Source: Cobb, "The problem of the Nile", Biometrika 65 (1978): yearly flow at Aswan 1871-1970 in 1e8 m3, with the change
// after 1898 that later papers agree on. Values read in several public
// copies that agree; count and mean (100 years, 919.35) are checked here.
describe('the Nile at Aswan', () => {
  const nile = [
    1120, 1160, 963, 1210, 1160, 1160, 813, 1230, 1370, 1140, 995, 935, 1110, 994, 1020, 960, 1180, 799, 958, 1140,
    1100, 1210, 1150, 1250, 1260, 1220, 1030, 1100, 774, 840, 874, 694, 940, 833, 701, 916, 692, 1020, 1050, 969, 831,
    726, 456, 824, 702, 1120, 1100, 832, 764, 821, 768, 845, 864, 862, 698, 845, 744, 796, 1040, 759, 781, 865, 845,
    944, 984, 897, 822, 1010, 771, 676, 649, 846, 812, 742, 801, 1040, 860, 874, 848, 890, 744, 749, 838, 1050, 918,
    986, 797, 923, 975, 815, 1020, 906, 901, 1170, 912, 746, 919, 718, 714, 740,
  ];
  it('are a hundred years with the published mean', () => {
    expect(nile).toHaveLength(100);
    expect(mean(nile)).toBeCloseTo(919.35, 10);
  });

  it('change after 1898', () => {
    const change = findChange(nile);
    expect(1871 + (change?.index as number)).toBe(1899);
    expect(change?.meanBefore).toBeCloseTo(1097.75, 2);
    expect(change?.meanAfter).toBeCloseTo(849.97, 2);
  });

  it('change no more once the two parts are looked at by themselves', () => {
    expect(findChange(nile.slice(0, 28))).toBeNull();
    expect(findChange(nile.slice(28))).toBeNull();
  });
});

// Source: Andrews, Econometrica 61 (1993) with the corrections of 2003, from memory: 12.16 is passed once in a hundred.
describe('a change that is none', () => {
  /** Normal values from a seed: twelve uniform ones less six. */
  function normals(count: number, seed: number): number[] {
    let state = seed >>> 0;
    const uniform = () => {
      state = (Math.imul(state, 1_664_525) + 1_013_904_223) >>> 0;
      return state / 2 ** 32;
    };
    return Array.from({ length: count }, () => Array.from({ length: 12 }, uniform).reduce((a, b) => a + b, -6));
  }

  it.each([20, 40, 100])('is found in about one of a hundred series of %i values', (count) => {
    const series = 2000;
    let found = 0;
    for (let seed = 1; seed <= series; seed++) if (findChange(normals(count, seed * 7919)) !== null) found++;
    expect(found / series).toBeLessThan(0.025);
    expect(supF1Pct).toBe(12.16);
  });

  it('while a shift by two deviations is found, and where it is', () => {
    let found = 0;
    for (let seed = 1; seed <= 200; seed++) {
      const values = normals(40, seed * 104_729).map((value, i) => (i < 22 ? value : value + 2));
      const change = findChange(values);
      if (change !== null && Math.abs(change.index - 22) <= 3) found++;
    }
    expect(found / 200).toBeGreaterThan(0.9);
  });

  it('is null for few, equal or missing values', () => {
    expect(findChange([1, 2, 3, 9, 9, 9, 9, 9, 9])).toBeNull();
    expect(findChange(Array.from({ length: 30 }, () => 4))).toBeNull();
    expect(findChange(Array.from({ length: 30 }, () => Number.NaN))).toBeNull();
    expect(findChange([0, 0, 0, 0, 0, 0, 1, 1, 1, 1, 1, 1])?.index).toBe(6);
  });
});

describe('percentile and standing in a class', () => {
  it('counts half of those that are equal: the middle of five is at 50', () => {
    expect([1, 2, 3, 4, 5].map((value) => percentileOf(value, [1, 2, 3, 4, 5]))).toEqual([10, 30, 50, 70, 90]);
    expect(percentileOf(7, [7, 7, 7])).toBe(50);
  });

  it('compares only within the group, and says nothing of a class of four', () => {
    const at = (group: string, values: number[]) =>
      values.map((value, i) => ({ machineId: `${group}-${i}`, group, value }));
    const few = compareWithClass([...at('haul', [1, 1.2, 0.9, 1.1, 9]), ...at('dig', [50, 51, 49, 90])]);
    expect(few.map((one) => one.standing)).toEqual([
      'usual',
      'usual',
      'usual',
      'usual',
      'high',
      'too-few',
      'too-few',
      'too-few',
      'too-few',
    ]);
    expect(compareWithClass([{ machineId: 'a', group: 'x', value: Number.NaN }])).toEqual([]);
  });
});
