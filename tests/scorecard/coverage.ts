/** What of a machine's life could be seen in its samples. */

import type { SampleBlock } from '@warmbrick/signals';

export interface Coverage {
  /** Running seconds that samples show within a time. */
  seenRunningS(fromMs: number, toMs: number): number;
  /** Last sample at or before a time, and first at or after it; null where there is none. */
  lastSampleMs(timeMs: number): number | null;
  nextSampleMs(timeMs: number): number | null;
}

const runningRpm = 400;

/** Coverage of blocks in order of time. */
export function coverageOf(blocks: readonly SampleBlock[], periodS: number): Coverage {
  const count = blocks.reduce((sum, block) => sum + block.timeMs.length, 0);
  const times = new Float64Array(count);
  const ranS = new Float64Array(count + 1);
  let at = 0;
  for (const block of blocks) {
    const speed = block.channels.engineSpeedRpm;
    for (let i = 0; i < block.timeMs.length; i++, at++) {
      times[at] = block.timeMs[i] as number;
      ranS[at + 1] = (ranS[at] as number) + ((speed?.[i] ?? 0) >= runningRpm ? periodS : 0);
    }
  }
  return {
    seenRunningS: (fromMs, toMs) => (ranS[firstAt(times, toMs)] as number) - (ranS[firstAt(times, fromMs)] as number),
    lastSampleMs: (timeMs) => times[firstAt(times, timeMs + 1) - 1] ?? null,
    nextSampleMs: (timeMs) => times[firstAt(times, timeMs)] ?? null,
  };
}

/** Ambient temperature in the first sample at or after a time; NaN when it is not sent. */
export function ambientAtMs(blocks: readonly SampleBlock[], timeMs: number): number {
  for (const block of blocks) {
    if ((block.timeMs.at(-1) as number) < timeMs) continue;
    return block.channels.ambientTempC?.[firstAt(block.timeMs, timeMs)] ?? Number.NaN;
  }
  return Number.NaN;
}

/** Index of the first time that is not before another one. */
function firstAt(times: Float64Array, timeMs: number): number {
  let low = 0;
  let high = times.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if ((times[middle] as number) < timeMs) low = middle + 1;
    else high = middle;
  }
  return low;
}
