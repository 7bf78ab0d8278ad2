/** Columns for the plot: buckets with their gaps kept open. */

import type { SampleSeries } from '@warmbrick/contracts';

export interface PlotColumns {
  /** Start of each bucket in epoch seconds, as the plot wants it. */
  readonly timeS: number[];
  readonly min: (number | null)[];
  readonly mean: (number | null)[];
  readonly max: (number | null)[];
}

/** Buckets further apart than this many bucket lengths have a gap between them. */
const gapBuckets = 1.5;

/**
 * Columns of one channel, converted for display.
 *
 * Buckets without a sample are left out by the server; an empty bucket is put back at the start of every gap, so that
 * no line is drawn across time in which nothing was heard.
 *
 * Missing: all empty when the channel was not sent.
 */
export function plotColumns(series: SampleSeries, channel: string, convert: (value: number) => number): PlotColumns {
  const columns: PlotColumns = { timeS: [], min: [], mean: [], max: [] };
  const values = series.channels[channel];
  const shown = (value: number | null | undefined) => (value === null || value === undefined ? null : convert(value));
  let previousS = Number.NaN;
  series.startedAt.forEach((startedAt, row) => {
    const startedS = Date.parse(startedAt) / 1000;
    if (startedS - previousS > gapBuckets * series.bucketS) push(columns, previousS + series.bucketS, null, null, null);
    push(columns, startedS, shown(values?.min[row]), shown(values?.mean[row]), shown(values?.max[row]));
    previousS = startedS;
  });
  return columns;
}

/** Whether a channel has a reading anywhere in the series. */
export function hasReadings(series: SampleSeries, channel: string): boolean {
  return series.channels[channel]?.mean.some((value) => value !== null) ?? false;
}

function push(columns: PlotColumns, timeS: number, ...row: (number | null)[]): void {
  columns.timeS.push(timeS);
  columns.min.push(row[0] ?? null);
  columns.mean.push(row[1] ?? null);
  columns.max.push(row[2] ?? null);
}
