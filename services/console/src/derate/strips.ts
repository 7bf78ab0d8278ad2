/** Small courses of signals around a moment. */

import type { SampleSeries } from '@warmbrick/contracts';

export interface Strip {
  readonly channel: string;
  readonly label: string;
  readonly unit: string;
  /** Values an hour before the moment and at it; null where nothing was measured near by. */
  readonly hourBefore: number | null;
  readonly atStart: number | null;
  /** The line in a box of this size. */
  path(width: number, height: number): string;
}

interface StripSpan {
  readonly fromMs: number;
  readonly toMs: number;
  readonly atMs: number;
}

const labels: Readonly<Record<string, string>> = {
  engineSpeedRpm: 'Engine speed',
  engineLoadPct: 'Engine load',
  scrInletTempC: 'SCR inlet',
  defLevelPct: 'DEF level',
  defConcentrationPct: 'Urea in DEF',
  noxInPpm: 'NOx in',
  noxOutPpm: 'NOx out',
  dpfSootPct: 'Soot load',
  torqueLimitPct: 'Torque available',
  batteryV: 'Battery',
};
const hourMs = 3_600_000;
/** A value stands for a moment that is no farther from it than this. */
const nearMs = 5 * 60_000;
/** Buckets farther apart than this many are not joined. */
const joinBuckets = 3;

/** The strips of a series, in the order in which its channels are known; channels without a value are left out. */
export function stripsOf(series: SampleSeries, span: StripSpan): Strip[] {
  const times = series.startedAt.map((at) => Date.parse(at) + series.bucketS * 500);
  return Object.keys(labels).flatMap((channel) => {
    const found = series.channels[channel];
    if (found === undefined || found.mean.every((value) => value === null)) return [];
    const nearest = (atMs: number) => nearestValue(times, found.mean, atMs);
    return [
      {
        channel,
        label: labels[channel] ?? channel,
        unit: found.unit,
        hourBefore: nearest(span.atMs - hourMs),
        atStart: nearest(span.atMs),
        path: (width, height) =>
          pathOf({ times, values: found.mean, bucketMs: series.bucketS * 1000, span }, width, height),
      },
    ];
  });
}

function nearestValue(times: readonly number[], values: readonly (number | null)[], atMs: number): number | null {
  let best: number | null = null;
  let bestMs = nearMs;
  for (const [i, value] of values.entries()) {
    const distanceMs = Math.abs((times[i] as number) - atMs);
    if (value === null || distanceMs > bestMs) continue;
    best = value;
    bestMs = distanceMs;
  }
  return best;
}

interface Course {
  readonly times: readonly number[];
  readonly values: readonly (number | null)[];
  readonly bucketMs: number;
  readonly span: StripSpan;
}

function pathOf({ times, values, bucketMs, span }: Course, width: number, height: number): string {
  const known = values.filter((value) => value !== null);
  const low = Math.min(...known);
  const range = Math.max(...known) - low;
  let path = '';
  let lastMs = Number.NEGATIVE_INFINITY;
  for (const [i, value] of values.entries()) {
    if (value === null) continue;
    const timeMs = times[i] as number;
    const x = ((timeMs - span.fromMs) / (span.toMs - span.fromMs)) * width;
    const y = range === 0 ? height / 2 : height - 2 - ((value - low) / range) * (height - 4);
    path += `${timeMs - lastMs > joinBuckets * bucketMs ? 'M' : 'L'}${x.toFixed(1)} ${y.toFixed(1)}`;
    lastMs = timeMs;
  }
  return path;
}
