/** What the schedules that may hold say of a machine's active faults at a time. */

import {
  builtInSchedules,
  type FaultEpisode,
  type FleetFaultTable,
  type HoursReading,
  type InducementClock,
  inducementClock,
  schedulesInForce,
} from '@warmbrick/analysis';
import type { ChannelName, SampleBlock } from '@warmbrick/signals';
import type { ReadWindow } from './handover-input.js';

/** How far around a fault a reading of the hour counter is looked for, ms. Source: engineering judgement. */
const aroundMs = 15 * 60_000;
/** How far back the present readings are looked for, ms. Source: engineering judgement. */
const recentMs = 6 * 3_600_000;
/** Faults whose surroundings are read at most. Source: engineering judgement. */
const mostFaults = 40;

export interface ClocksInput {
  readonly faults: readonly FaultEpisode[];
  readonly fleetTable: FleetFaultTable;
  readonly atMs: number;
}

/** The clocks that run; empty when no active fault leads to an inducement. Errors: those of `read`. */
export async function inducementClocks(
  { faults, fleetTable, atMs }: ClocksInput,
  read: ReadWindow,
): Promise<InducementClock[]> {
  const relevant = faults.filter(({ startedMs, endedMs }) => startedMs <= atMs && (endedMs === null || endedMs > atMs));
  if (relevant.length === 0) return [];
  const recent = await read({ fromMs: atMs - recentMs, toMs: atMs + 1 });
  const engineHours = readingsOf(recent);
  for (const { startedMs } of relevant.slice(-mostFaults)) {
    engineHours.push(...readingsOf(await read({ fromMs: startedMs - aroundMs, toMs: startedMs + aroundMs })));
  }
  const defLevelPct = lastValue(recent, 'defLevelPct', atMs);
  return schedulesInForce(builtInSchedules, atMs)
    .map((schedule) => inducementClock({ schedule, faults, engineHours, atMs, defLevelPct, fleetTable }))
    .filter(({ lines }) => lines.length > 0);
}

/** The last value of a channel up to a time; null when there is none. */
export function lastValue(blocks: readonly SampleBlock[], channel: ChannelName, atMs: number): number | null {
  let newestMs = Number.NEGATIVE_INFINITY;
  let found: number | null = null;
  for (const { timeMs, channels } of blocks) {
    const column = channels[channel];
    if (column === undefined) continue;
    for (let i = column.length - 1; i >= 0; i--) {
      const at = timeMs[i] as number;
      if (at > atMs || Number.isNaN(column[i] as number)) continue;
      if (at > newestMs) {
        newestMs = at;
        found = column[i] as number;
      }
      break;
    }
  }
  return found;
}

/** First and last reading of each block: the counter moves evenly in between. */
function readingsOf(blocks: readonly SampleBlock[]): HoursReading[] {
  return blocks.flatMap(({ timeMs, channels }) => {
    const column = channels.engineHours;
    if (column === undefined) return [];
    const known = Array.from(column, (_, i) => i).filter((i) => !Number.isNaN(column[i] as number));
    return [known[0], known.at(-1)].flatMap((i) =>
      i === undefined ? [] : [{ timeMs: timeMs[i] as number, engineHours: column[i] as number }],
    );
  });
}
