/** Sums of residency rows. A quarter hour without a row was not observed. */

import { type ResidencyRow, type ResidencyTotals, residencyRowS, residencySums } from '@warmbrick/analysis';

/** Length of a row in milliseconds. Source: residencyRowS of the analysis. */
export const rowMs = residencyRowS * 1000;

/** Rows by their start, for looking up. */
export type RowsByStart = ReadonlyMap<number, ResidencyRow>;

/** Puts rows where they can be looked up by start. */
export function rowsByStart(rows: readonly ResidencyRow[]): RowsByStart {
  return new Map(rows.map((row) => [row.startedMs, row]));
}

/**
 * Adds up the quarter hours that start in [fromMs, toMs).
 *
 * Missing: a quarter hour without a row counts as unobserved for its whole length.
 * Range: fromMs on a quarter hour.
 */
export function sumRows(rows: RowsByStart, fromMs: number, toMs: number): ResidencyTotals {
  const sums = Object.fromEntries(residencySums.map((name) => [name, 0])) as Record<
    (typeof residencySums)[number],
    number
  >;
  let maxExhaustTempC: number | null = null;
  for (let startMs = fromMs; startMs < toMs; startMs += rowMs) {
    const row = rows.get(startMs);
    if (row === undefined) {
      sums.unobservedS += residencyRowS;
      continue;
    }
    for (const name of residencySums) sums[name] += row[name];
    if (row.maxExhaustTempC !== null) maxExhaustTempC = Math.max(maxExhaustTempC ?? -Infinity, row.maxExhaustTempC);
  }
  return { ...sums, maxExhaustTempC };
}

/** The start of the quarter hour that an instant lies in. */
export function quarterStart(atMs: number): number {
  return Math.floor(atMs / rowMs) * rowMs;
}

/** The instant itself when it is a quarter hour, else the next quarter hour. */
export function quarterEnd(atMs: number): number {
  return Math.ceil(atMs / rowMs) * rowMs;
}
