/** The last 24 hours of a machine's own time as a strip of quarter hours. */

import { residencyRowS } from '@warmbrick/analysis';
import { type DayStrip, toInstant } from '@warmbrick/contracts';
import { quarterEnd, type RowsByStart, rowMs } from './residency-sum.js';

/** Length of the strip. Source: the contract of the fleet page. */
const stripMs = 86_400_000;

export interface StripRange {
  readonly fromMs: number;
  readonly toMs: number;
}

/** The 24 hours that end at the last sample, rounded up to the quarter hour. */
export function stripRange(lastSampleMs: number): StripRange {
  const toMs = quarterEnd(lastSampleMs);
  return { fromMs: toMs - stripMs, toMs };
}

const columnNames = ['runningS', 'idleS', 'belowReleaseS', 'belowS', 'inS', 'aboveS', 'unobservedS'] as const;

/**
 * The strip as columns.
 *
 * Missing: a quarter hour without a row is unobserved for its whole length.
 */
export function dayStrip(rows: RowsByStart, range: StripRange): DayStrip {
  const columns = Object.fromEntries(columnNames.map((name) => [name, [] as number[]])) as Record<
    (typeof columnNames)[number],
    number[]
  >;
  for (let startMs = range.fromMs; startMs < range.toMs; startMs += rowMs) {
    const row = rows.get(startMs);
    for (const name of columnNames) {
      columns[name].push(row === undefined ? (name === 'unobservedS' ? residencyRowS : 0) : row[name]);
    }
  }
  return { startedAt: toInstant(range.fromMs), bucketS: residencyRowS, ...columns };
}
