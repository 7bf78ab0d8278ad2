import { coursePaths, histogramBars, layBricks, residencyShares } from '@warmbrick/console';
import type { DayStrip } from '@warmbrick/contracts';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';

const quarter = { runningS: 0, idleS: 0, belowReleaseS: 0, belowS: 0, inS: 0, aboveS: 0, unobservedS: 0 };
type Quarter = typeof quarter;

function strip(...quarters: readonly Partial<Quarter>[]): DayStrip {
  const column = (name: keyof Quarter) => quarters.map((row) => row[name] ?? 0);
  return {
    startedAt: '2026-03-16T13:15:00.000Z',
    bucketS: 900,
    runningS: column('runningS'),
    idleS: column('idleS'),
    belowReleaseS: column('belowReleaseS'),
    belowS: column('belowS'),
    inS: column('inS'),
    aboveS: column('aboveS'),
    unobservedS: column('unobservedS'),
  };
}

describe('bricks', () => {
  it.each([
    ['off', {}],
    ['unobserved', { unobservedS: 451, runningS: 449, inS: 449 }],
    ['in', { unobservedS: 450, runningS: 450, inS: 450 }],
    ['cold', { runningS: 900, belowReleaseS: 600, belowS: 700, inS: 200 }],
    ['below', { runningS: 900, belowReleaseS: 100, belowS: 800, inS: 100 }],
    ['above', { runningS: 900, inS: 400, aboveS: 500 }],
    ['unmeasured', { runningS: 900, inS: 100 }],
  ])('is %s', (kind, row) => {
    expect(layBricks(strip(row))[0]?.kind).toBe(kind);
  });

  it('is as high as the engine ran and underlined when it mostly idled', () => {
    expect(layBricks(strip({ runningS: 300, idleS: 151, belowS: 300 }))[0]).toEqual({
      kind: 'below',
      heightRatio: 300 / 900,
      isIdle: true,
    });
    expect(layBricks(strip({ runningS: 300, idleS: 150, belowS: 300 }))[0]?.isIdle).toBe(false);
  });

  it('gives one brick a quarter, none higher than a course', () => {
    const second = fc.integer({ min: 0, max: 900 });
    const row = fc.record({
      runningS: second,
      idleS: second,
      belowS: second,
      inS: second,
      aboveS: second,
      unobservedS: second,
    });
    fc.assert(
      fc.property(fc.array(row, { maxLength: 100 }), (rows) => {
        const bricks = layBricks(strip(...rows));
        expect(bricks.length).toBe(rows.length);
        for (const brick of bricks) {
          expect(brick.heightRatio).toBeGreaterThanOrEqual(0);
          expect(brick.heightRatio).toBeLessThanOrEqual(1);
        }
      }),
    );
  });

  it('draws each kind differently even without colour', () => {
    const kinds = ['cold', 'below', 'in', 'unmeasured', 'unobserved'] as const;
    const drawn = kinds.map((kind) => coursePaths([{ kind, heightRatio: 1, isIdle: false }])[kind]);
    expect(new Set(drawn).size).toBe(kinds.length);
    expect(drawn).not.toContain(undefined);
    // Above the window is told from in it by its cap.
    expect(coursePaths([{ kind: 'above', heightRatio: 1, isIdle: false }]).cap).toBeDefined();
    expect(coursePaths([{ kind: 'off', heightRatio: 0, isIdle: false }])).toEqual({});
  });
});

describe('shares of running time', () => {
  it('add up to it', () => {
    const second = fc.integer({ min: 0, max: 50_000 });
    fc.assert(
      fc.property(second, second, second, second, second, (cold, below, inS, aboveS, noTemperatureS) => {
        const runningS = cold + below + inS + aboveS + noTemperatureS;
        const shares = residencyShares({
          runningS,
          belowReleaseS: cold,
          belowS: cold + below,
          inS,
          aboveS,
          noTemperatureS,
        });
        expect(shares.reduce((sum, share) => sum + share.lengthS, 0)).toBe(runningS);
        expect(shares.reduce((sum, share) => sum + share.shareRatio, 0)).toBeCloseTo(runningS > 0 ? 1 : 0, 9);
      }),
    );
  });
});

describe('the histogram', () => {
  const limits = { dosingReleaseTempC: 200, window: { lowC: 350, highC: 450 } };
  it('spans what was seen and the whole window, each bar by its temperature', () => {
    const histogramS = new Array<number>(80).fill(0);
    histogramS[12] = 60;
    histogramS[36] = 600;
    const bars = histogramBars(histogramS, limits);
    expect(bars[0]).toEqual({ lowC: 120, highC: 130, lengthS: 60, kind: 'cold' });
    expect(bars[bars.length - 1]?.highC).toBe(460);
    expect(bars.find((bar) => bar.lowC === 360)).toMatchObject({ lengthS: 600, kind: 'in' });
    expect(bars.find((bar) => bar.lowC === 340)?.kind).toBe('below');
    expect(bars.find((bar) => bar.lowC === 450)?.kind).toBe('above');
  });

  it('is empty when nothing was seen', () => {
    expect(histogramBars(new Array<number>(80).fill(0), limits)).toEqual([]);
  });
});
