import { scrConversionRatio } from '@warmbrick/aftertreatment';
import { type CatalystFamily, defaultProfile, profileWindow } from '@warmbrick/signals';
import { describe, expect, it } from 'vitest';

describe('conversion against temperature by catalyst family (from memory, each point good to 5 percent points)', () => {
  const tempsC = [150, 175, 200, 225, 250, 300, 350, 400, 450, 500, 550] as const;
  const rows: readonly (readonly [CatalystFamily, readonly number[]])[] = [
    ['copper-zeolite', [15, 40, 75, 90, 96, 98, 98, 97, 95, 90, 80]],
    ['iron-zeolite', [5, 10, 22, 40, 58, 82, 92, 96, 97, 96, 92]],
    ['vanadia', [5, 15, 38, 60, 78, 92, 96, 96, 92, 80, 60]],
  ];
  it.each(rows)('%s passes through the points', (family, points) => {
    tempsC.forEach((tempC, i) => {
      expect(
        Math.abs(100 * scrConversionRatio(family, tempC) - (points[i] as number)),
        `${tempC} C`,
      ).toBeLessThanOrEqual(0.5);
    });
  });
});

describe('what papers say of the families', () => {
  it('copper chabazite converts about all at 250 C (read: VNU Journal of Science 36(1), 2020)', () => {
    expect(scrConversionRatio('copper-zeolite', 250)).toBeGreaterThanOrEqual(0.95);
  });

  it('copper beats iron in the cold (read: JSAE 44-2 20134187)', () => {
    for (let tempC = 150; tempC <= 300; tempC += 10) {
      expect(scrConversionRatio('copper-zeolite', tempC)).toBeGreaterThan(scrConversionRatio('iron-zeolite', tempC));
    }
  });

  it('iron keeps its conversion in the heat where the others lose it (from memory)', () => {
    expect(scrConversionRatio('iron-zeolite', 550)).toBeGreaterThan(scrConversionRatio('copper-zeolite', 550));
    expect(scrConversionRatio('copper-zeolite', 550)).toBeGreaterThan(scrConversionRatio('vanadia', 550));
  });

  // Common practice: 350 to 450 C in operation for full efficiency.
  it('every family converts nine tenths in the whole of its window', () => {
    for (const catalystFamily of ['copper-zeolite', 'iron-zeolite', 'vanadia', 'unspecified'] as const) {
      const { lowC, highC } = profileWindow({ ...defaultProfile, catalystFamily });
      for (let tempC = lowC; tempC <= highC; tempC += 5) {
        expect(scrConversionRatio(catalystFamily, tempC), `${catalystFamily} ${tempC}`).toBeGreaterThanOrEqual(0.9);
      }
    }
  });
});
