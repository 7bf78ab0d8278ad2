/** The day as a line of text: one sign for a quarter of an hour. */

import type { ResidencyRow } from '@warmbrick/analysis';
import type { ZoneClock } from './durations.js';

/** Signs by what filled most of the quarter; a reader needs no colour. */
const signs = {
  nothing: ' ',
  unobserved: '?',
  off: '.',
  belowRelease: 'o',
  below: '-',
  inside: '#',
  above: '^',
  noTemperature: '~',
} as const;

export const dayLegend =
  '# in the window   - below it   o below dosing release   ^ above   ~ no temperature   . off   ? not seen';

const daysShown = 14;

export interface DayPictures {
  add(row: ResidencyRow): void;
  /** Lines of the newest days, oldest first, with a ruler of hours on top. */
  lines(clock: ZoneClock): string[];
}

/** Collects rows of one machine, a sign each. */
export function createDayPictures(): DayPictures {
  const quarters = new Map<number, string>();
  return {
    add: (row) => {
      quarters.set(row.startedMs, signOf(row));
    },
    lines: (clock) => draw(quarters, clock),
  };
}

function draw(quarters: ReadonlyMap<number, string>, clock: ZoneClock): string[] {
  const days = new Map<string, string[]>();
  for (const [startedMs, sign] of [...quarters].sort(([a], [b]) => a - b)) {
    const day = clock.day(startedMs);
    const line = days.get(day) ?? new Array<string>(96).fill(signs.nothing);
    line[clock.quarter(startedMs)] = sign;
    days.set(day, line);
  }
  const shown = [...days].slice(-daysShown);
  if (shown.length === 0) return [];
  const hours = Array.from({ length: 24 }, (_, hour) => String(hour).padStart(2, '0').padEnd(4)).join('');
  const left = days.size - shown.length;
  const lines = [
    `${' '.repeat(12)}${hours.trimEnd()}`,
    ...shown.map(([day, line]) => `${day}  ${line.join('').trimEnd()}`),
  ];
  return left > 0 ? [`(${left} earlier days not drawn)`, ...lines] : lines;
}

function signOf(row: ResidencyRow): string {
  const { runningS, unobservedS, offS, crankingS } = row;
  const total = runningS + unobservedS + offS + crankingS;
  if (total === 0) return signs.nothing;
  if (runningS >= total / 3) return runningSign(row);
  return unobservedS > offS + crankingS ? signs.unobserved : signs.off;
}

function runningSign(row: ResidencyRow): string {
  const shares: [string, number][] = [
    [signs.inside, row.inS],
    [signs.below, row.belowS - row.belowReleaseS],
    [signs.belowRelease, row.belowReleaseS],
    [signs.above, row.aboveS],
    [signs.noTemperature, row.noTemperatureS],
  ];
  return shares.reduce((best, next) => (next[1] > best[1] ? next : best))[0];
}
