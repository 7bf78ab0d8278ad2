/** Which samples an inquiry needs, so that nobody has to read a machine's whole past. */

import type { DerateEpisode } from './derate-episode.js';
import type { FaultEpisode } from './fault-episode.js';

export interface TimeSpan {
  readonly fromMs: number;
  readonly toMs: number;
}

const hourMs = 3_600_000;
/** Faults that began this long before a derate are looked at; inducements run for days at most. Source: design decision. */
export const faultReachMs = 60 * 24 * hourMs;
/** A working day before the derate, and until the power is surely taken. Source: engineering judgement. */
const aroundDerate = { beforeMs: 9 * hourMs, afterMs: hourMs / 4 };
/** Around a fault: what its signal did before and after. Source: reach of the testimony on sensors. */
const aroundFault = { beforeMs: 2.25 * hourMs, afterMs: 4 * hourMs };
/** Faults whose surroundings are read, the latest before the derate. Source: engineering judgement. */
const mostFaults = 40;

/** Stretches of time, in order and none touching another, whose samples an inquiry into the derate hears. */
export function inquiryWindows(derate: DerateEpisode, faults: readonly FaultEpisode[]): TimeSpan[] {
  const { startedMs } = derate;
  const near = faults
    .filter(
      (fault) => fault.startedMs <= startedMs + aroundDerate.afterMs && fault.startedMs > startedMs - faultReachMs,
    )
    .sort((a, b) => b.startedMs - a.startedMs || (a.id < b.id ? -1 : 1))
    .slice(0, mostFaults);
  const spans = near.map((fault) => ({
    fromMs: fault.startedMs - aroundFault.beforeMs,
    toMs: Math.min(fault.startedMs + aroundFault.afterMs, startedMs + aroundDerate.afterMs),
  }));
  spans.push({ fromMs: startedMs - aroundDerate.beforeMs, toMs: startedMs + aroundDerate.afterMs });
  return joinedSpans(spans);
}

/** The same time in spans that are in order and do not touch. */
export function joinedSpans(spans: readonly TimeSpan[]): TimeSpan[] {
  const joined: { fromMs: number; toMs: number }[] = [];
  for (const { fromMs, toMs } of [...spans].sort((a, b) => a.fromMs - b.fromMs)) {
    const last = joined.at(-1);
    if (last !== undefined && fromMs <= last.toMs) last.toMs = Math.max(last.toMs, toMs);
    else joined.push({ fromMs, toMs });
  }
  return joined;
}
