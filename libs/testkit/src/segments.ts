/** Recordings written as a list of segments, for tests. */

import { type ChannelName, type Column, createColumn, quantise, type SampleBlock } from '@warmbrick/signals';

/** So many seconds of one state. A channel not named is missing; a segment that is `silent` sends nothing. */
export interface Segment {
  readonly forS: number;
  readonly silent?: boolean;
  readonly values?: Partial<Record<ChannelName, number>>;
}

export interface SegmentOptions {
  readonly machineId?: string;
  /** Time of the first sample. Default 2026-03-02T06:00:00Z, a Monday. */
  readonly startMs?: number;
  readonly stepS?: number;
}

/** Usual states of the demo machine: three signals and coolant. */
export const off = (forS: number): Segment => ({
  forS,
  values: { engineSpeedRpm: 0, engineLoadPct: 0, exhaustTempC: 40 },
});
export const idle = (forS: number, exhaustTempC = 140): Segment => ({
  forS,
  values: { engineSpeedRpm: 950, engineLoadPct: 10, exhaustTempC },
});
export const work = (forS: number, exhaustTempC = 390): Segment => ({
  forS,
  values: { engineSpeedRpm: 1700, engineLoadPct: 75, exhaustTempC },
});
export const silence = (forS: number): Segment => ({ forS, silent: true });

/**
 * One block out of segments: a sample at the start of each step; the first of the next segment ends the one before.
 *
 * In segments of over twenty minutes the exhaust temperature is a thirty-second of a degree higher in every other minute: one that
 * stands still while the load changes would be a stuck sensor.
 * Shapes: a segment of n seconds at a step of s gives ceil(n / s) samples.
 */
export function recordingOf(segments: readonly Segment[], options: SegmentOptions = {}): SampleBlock {
  const { machineId = 'test-machine', startMs = Date.UTC(2026, 2, 2, 6), stepS = 1 } = options;
  const rows: { timeMs: number; values: Partial<Record<ChannelName, number>> }[] = [];
  let at = 0;
  for (const segment of segments) {
    for (let s = 0; s < segment.forS && segment.silent !== true; s += stepS) {
      const timeMs = startMs + (at + s) * 1000;
      const values = segment.values ?? {};
      rows.push({ timeMs, values: segment.forS > 1200 ? trembling(values, timeMs) : values });
    }
    at += segment.forS;
  }
  return blockOfRows(machineId, rows);
}

function trembling(values: NonNullable<Segment['values']>, timeMs: number): NonNullable<Segment['values']> {
  const { exhaustTempC } = values;
  if (exhaustTempC === undefined) return values;
  return { ...values, exhaustTempC: exhaustTempC + (Math.floor(timeMs / 60_000) % 2) / 32 };
}

function blockOfRows(
  machineId: string,
  rows: readonly { timeMs: number; values: Partial<Record<ChannelName, number>> }[],
): SampleBlock {
  const names = [...new Set(rows.flatMap((row) => Object.keys(row.values)))] as ChannelName[];
  const channels: Partial<Record<ChannelName, Column>> = {};
  for (const name of names) {
    const column = createColumn(name, rows.length);
    rows.forEach((row, i) => {
      column[i] = quantise(name, row.values[name] ?? Number.NaN);
    });
    channels[name] = column;
  }
  return { machineId, timeMs: Float64Array.from(rows, (row) => row.timeMs), channels };
}
