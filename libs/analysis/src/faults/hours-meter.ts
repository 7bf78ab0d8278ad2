/** Engine hours between two times, from whatever there is to tell. */

import type { SampleBlock } from '@warmbrick/signals';
import type { Finding } from '../finding.js';
import { type HoursReading, hoursBetween } from './inducement-clock.js';

export interface HoursMeter {
  /** `isUpperBound` when only the time of day is known. */
  between(fromMs: number, toMs: number): { readonly hours: number; readonly isUpperBound: boolean };
  /** By how much the machine's clock was once set back, ms, as the hour counter shows; 0 when it never was. */
  readonly setBackMs: number;
}

const hourMs = 3_600_000;
/** The counter moves in steps of 0.05 h; less than this backwards is no clock. Source: resolution of SPN 247. */
const leastBackH = 0.15;
/** Readings are taken this far apart. Source: engineering judgement; the counter moves every three minutes. */
const readingEveryMs = 60_000;
/** A list of runs is believed to be whole from this long before its first one. Source: design decision. */
const runSlackMs = 24 * hourMs;

/** Makes the meter: the hour counter where its readings reach, else the runs that were found, else the time of day. */
export function createHoursMeter(of: {
  samples: readonly SampleBlock[];
  findings: readonly Finding[];
  readings?: readonly HoursReading[];
}): HoursMeter {
  const readings = [...(of.readings ?? []), ...readingsOf(of.samples)].sort((a, b) => a.timeMs - b.timeMs);
  const runs = of.findings
    .filter(({ kind }) => kind === 'engine-run')
    .map(({ startedMs, endedMs, emittedMs }) => ({ startedMs, endedMs: endedMs ?? emittedMs }));
  const firstRunMs = runs.reduce((least, { startedMs }) => Math.min(least, startedMs), Number.POSITIVE_INFINITY);
  return {
    setBackMs: setBackOf(readings),
    between(fromMs, toMs) {
      const counted = hoursBetween(readings, fromMs, toMs);
      if (!counted.isUpperBound || runs.length === 0 || fromMs < firstRunMs - runSlackMs) return counted;
      let ms = 0;
      for (const run of runs) ms += Math.max(0, Math.min(run.endedMs, toMs) - Math.max(run.startedMs, fromMs));
      return { hours: ms / hourMs, isUpperBound: false };
    },
  };
}

/** Readings of all blocks, a minute apart at least, wherever blocks are cut. */
function readingsOf(blocks: readonly SampleBlock[]): HoursReading[] {
  const list: HoursReading[] = [];
  let lastMs = Number.NEGATIVE_INFINITY;
  for (const { timeMs, channels } of [...blocks].sort((a, b) => (a.timeMs[0] ?? 0) - (b.timeMs[0] ?? 0))) {
    const column = channels.engineHours;
    if (column === undefined) continue;
    for (let i = 0; i < column.length; i++) {
      const engineHours = column[i] as number;
      const atMs = timeMs[i] as number;
      if (Number.isNaN(engineHours) || atMs < lastMs + readingEveryMs) continue;
      lastMs = atMs;
      list.push({ timeMs: atMs, engineHours });
    }
  }
  return list;
}

/**
 * The hour counter never falls: where it does, two stretches lie over each other in the machine's time; and it never runs faster
 * than the clock: where it does, the clock was set back in between.
 */
function setBackOf(readings: readonly HoursReading[]): number {
  let mostH = Number.NEGATIVE_INFINITY;
  let backH = 0;
  let lastMs = Number.NEGATIVE_INFINITY;
  for (const { timeMs, engineHours } of readings) {
    if (mostH > Number.NEGATIVE_INFINITY) {
      backH = Math.max(backH, mostH - engineHours, engineHours - mostH - (timeMs - lastMs) / hourMs);
    }
    mostH = Math.max(mostH, engineHours);
    lastMs = timeMs;
  }
  return backH >= leastBackH ? backH * hourMs : 0;
}
