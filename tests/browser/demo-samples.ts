/** Sample series of the invented machines. */

import type { SampleSeries } from '@warmbrick/contracts';
import { channels as catalogue, isChannelName } from '@warmbrick/signals';
import { iso, isRunning } from './demo-answers.js';
import { type DemoMachine, spread, tempAt } from './demo-machines.js';

interface SeriesAsked {
  readonly fromMs: number;
  readonly toMs: number;
  readonly buckets: number;
  readonly channels: readonly string[];
}

type Reading = Readonly<Record<string, number>>;

/** Buckets of whole seconds over a range; those without a sample are left out. */
export function demoSamples(machine: DemoMachine, asked: SeriesAsked): SampleSeries {
  const bucketS = Math.max(1, Math.ceil((asked.toMs - asked.fromMs) / 1000 / asked.buckets));
  const series: SampleSeries = { from: iso(asked.fromMs), to: iso(asked.toMs), bucketS, startedAt: [], channels: {} };
  const sent = asked.channels.filter((name) => isChannelName(name) && name in readingAt(machine, 0, 1));
  for (const name of sent) {
    const unit = isChannelName(name) ? catalogue[name].unit : '';
    series.channels[name] = { unit, min: [], mean: [], max: [] };
  }
  for (let startMs = asked.fromMs; startMs < asked.toMs; startMs += bucketS * 1000) {
    if (startMs > machine.lastSampleMs) break;
    const segment = machine.segments.find(({ endMs, startMs: from }) => endMs > startMs && from <= startMs);
    if (segment === undefined || !isRunning(segment)) continue;
    const next = spread(Math.floor(startMs / 1000));
    const tempC = tempAt(segment, startMs + bucketS * 500);
    const reading = readingAt(machine, segment.loadPct, tempC);
    series.startedAt.push(iso(startMs));
    for (const name of sent) {
      const column = series.channels[name];
      const mean = (reading[name] ?? 0) * (0.97 + next() * 0.06);
      const swing = Math.abs(mean) * (0.01 + Math.min(0.12, bucketS / 2000));
      column?.mean.push(mean);
      column?.min.push(mean - swing * next());
      column?.max.push(mean + swing * next());
    }
  }
  return series;
}

/** The gateway of these machines sends no DEF level and no NOx. */
function readingAt(_machine: DemoMachine, loadPct: number, tempC: number): Reading {
  return {
    scrInletTempC: tempC,
    engineLoadPct: loadPct,
    engineSpeedRpm: loadPct < 20 ? 950 : 1350 + loadPct * 6,
    coolantTempC: 84,
    scrOutletTempC: tempC - 20,
    fuelRateLPerH: 2 + loadPct / 6,
    dpfSootPct: 42,
  };
}
