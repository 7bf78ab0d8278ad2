/** Engine hours at chosen times of a machine, as the inducement clock wants them. */

import type { HoursReading } from '@warmbrick/analysis';
import type { SampleBlock } from '@warmbrick/signals';
import { readHourUse, type Store, type StoredMachine } from '@warmbrick/store';

/** How far around a time a reading of the hour counter is looked for, ms. Source: as `inducementClocks` of the handover sheet. */
const aroundMs = 15 * 60_000;
/** A row of residency covers a quarter of an hour, ms. */
const rowMs = 15 * 60_000;
/** Times whose surroundings are read at most; the newest. Source: engineering judgement. */
const mostTimes = 40;

/**
 * Readings at the times and now, where the machine sends its counter; elsewhere the hours that it was seen running take their place,
 * which standing machines do not add to.
 *
 * Missing: running that nobody saw is not counted where there is no counter.
 */
export async function readEngineHours(
  store: Pick<Store, 'readSamples' | 'listRows'>,
  machine: Pick<StoredMachine, 'machineId' | 'lastSampleMs'>,
  timesMs: readonly number[],
): Promise<HoursReading[]> {
  const wanted = [...new Set(timesMs)].sort((a, b) => a - b).slice(-mostTimes);
  const sinceMs = wanted[0];
  if (sinceMs === undefined) return [];
  const { machineId, lastSampleMs } = machine;
  const { reading, running } = await readHourUse(store, machine, sinceMs - rowMs);
  const now = reading ?? { engineHours: totalH(running, Number.NEGATIVE_INFINITY), atMs: lastSampleMs };
  const readings: HoursReading[] = [{ timeMs: now.atMs, engineHours: now.engineHours }];
  for (const timeMs of wanted) {
    const range = { fromMs: Math.floor(timeMs - aroundMs), toMs: Math.ceil(timeMs + aroundMs) };
    const seen =
      reading === null ? [] : counterOf(await store.readSamples({ machineId, ...range, channels: ['engineHours'] }));
    if (seen.length > 0) readings.push(...seen);
    else if (timeMs < now.atMs) readings.push({ timeMs, engineHours: now.engineHours - totalH(running, timeMs) });
  }
  return readings.sort((a, b) => a.timeMs - b.timeMs);
}

type Running = Awaited<ReturnType<typeof readHourUse>>['running'];

/** Hours of running after a time; of the row that it lies in its share. */
function totalH(running: Running, afterMs: number): number {
  let sumS = 0;
  for (const { startedMs, runningS } of running) {
    const share = Math.min(1, Math.max(0, (startedMs + rowMs - afterMs) / rowMs));
    sumS += share * runningS;
  }
  return sumS / 3600;
}

/** First and last reading of each block: the counter moves evenly in between. */
function counterOf(blocks: readonly SampleBlock[]): HoursReading[] {
  return blocks.flatMap(({ timeMs, channels }) => {
    const column = channels.engineHours;
    if (column === undefined) return [];
    const known = Array.from(column, (_, i) => i).filter((i) => !Number.isNaN(column[i] as number));
    return [known[0], known.at(-1)].flatMap((i) =>
      i === undefined ? [] : [{ timeMs: timeMs[i] as number, engineHours: column[i] as number }],
    );
  });
}
