/** The day of a machine as a course of bricks, one for each quarter hour. */

import type { DayStrip } from '@warmbrick/contracts';

/** What a brick shows; `off` is no brick but the bare bed it would lie on. */
export type BrickKind = 'off' | 'unobserved' | 'unmeasured' | 'cold' | 'below' | 'in' | 'above';

export interface Brick {
  readonly kind: BrickKind;
  /** Share of the quarter hour that the engine ran. */
  readonly heightRatio: number;
  /** Whether it idled for more than half of the time it ran. */
  readonly isIdle: boolean;
}

/**
 * Turns a day strip into bricks. The kind is the temperature that lasted longest while the engine ran.
 *
 * Shapes: as many bricks as the strip has rows. Missing: more than half unobserved gives an `unobserved` brick;
 * running without a temperature gives an `unmeasured` one.
 */
export function layBricks(day: DayStrip): Brick[] {
  return day.runningS.map((runningS, row) => {
    const unobservedS = day.unobservedS[row] ?? 0;
    if (unobservedS > day.bucketS / 2) return { kind: 'unobserved', heightRatio: 1, isIdle: false };
    if (runningS < 1) return { kind: 'off', heightRatio: 0, isIdle: false };
    return {
      kind: longestKind(day, row, runningS),
      heightRatio: Math.min(1, runningS / day.bucketS),
      isIdle: (day.idleS[row] ?? 0) > runningS / 2,
    };
  });
}

function longestKind(day: DayStrip, row: number, runningS: number): BrickKind {
  const coldS = day.belowReleaseS[row] ?? 0;
  const belowS = (day.belowS[row] ?? 0) - coldS;
  const inS = day.inS[row] ?? 0;
  const aboveS = day.aboveS[row] ?? 0;
  const unmeasuredS = runningS - coldS - belowS - inS - aboveS;
  const spans: readonly (readonly [BrickKind, number])[] = [
    ['above', aboveS],
    ['in', inS],
    ['below', belowS],
    ['cold', coldS],
    ['unmeasured', unmeasuredS],
  ];
  return spans.reduce((longest, span) => (span[1] > longest[1] ? span : longest))[0];
}
