/** How far the hours of a machine went, read from the store. */

import type { HourUse } from '@warmbrick/analysis';
import type { Store, StoredMachine } from './store.js';

const dayMs = 86_400_000;
/** How far back running is summed, and a reading of the hour meter is looked for. Source: engineering judgement. */
const runningDays = 400;
const readingDays = 3;
/** The last weeks are always read: they say what the next ones will be like. */
const recentDays = 28;

/** Running and the latest reading of the hour meter. @param sinceMs as far back as somebody wants to count */
export async function readHourUse(
  store: Pick<Store, 'readSamples' | 'listRows'>,
  { machineId, lastSampleMs }: Pick<StoredMachine, 'machineId' | 'lastSampleMs'>,
  sinceMs: number,
): Promise<HourUse> {
  const reading = await latestReading(store, machineId, lastSampleMs);
  const oldestMs = Math.min(lastSampleMs - recentDays * dayMs, sinceMs);
  const fromMs = Math.max(oldestMs, lastSampleMs - runningDays * dayMs);
  const rows = (await store.listRows([machineId], fromMs, lastSampleMs + 1)).get(machineId) ?? [];
  const running = rows
    .filter(({ runningS }) => runningS > 0)
    .map(({ startedMs, runningS }) => ({ startedMs, runningS }));
  return { reading, running };
}

async function latestReading(
  store: Pick<Store, 'readSamples'>,
  machineId: string,
  lastSampleMs: number,
): Promise<HourUse['reading']> {
  const range = { fromMs: lastSampleMs - readingDays * dayMs, toMs: lastSampleMs + 1 };
  const blocks = await store.readSamples({ machineId, ...range, channels: ['engineHours'] });
  for (const { timeMs, channels } of blocks.reverse()) {
    const hours = channels.engineHours;
    if (hours === undefined) continue;
    for (let i = timeMs.length - 1; i >= 0; i--) {
      const engineHours = hours[i] as number;
      if (engineHours === engineHours) return { engineHours, atMs: timeMs[i] as number };
    }
  }
  return null;
}
