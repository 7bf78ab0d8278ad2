/** What is due on a machine, with what it rests on, out of the store. */

import { type HourUse, type ServiceDue, serviceDue } from '@warmbrick/analysis';
import { type MachineService, toInstant } from '@warmbrick/contracts';
import type { Store, StoredMachine, StoredServiceRecord } from '@warmbrick/store';

const dayMs = 86_400_000;
/** How far back running is summed, and a reading of the hour meter is looked for. Source: engineering judgement. */
const runningDays = 400;
const readingDays = 3;

/** The document of one machine. */
export async function machineService(store: Store, machine: StoredMachine, nowMs: number): Promise<MachineService> {
  const { machineId, profile } = machine;
  const records = await store.listServiceRecords(machineId);
  const use = await hourUse(store, machine, records);
  const intervals = profile.serviceIntervals;
  const due = serviceDue({ intervals, records, use, nowMs });
  return {
    machineId,
    name: profile.name ?? machineId,
    timeZone: profile.timeZone,
    at: toInstant(nowMs),
    engineHours: use.reading === null ? null : { value: use.reading.engineHours, at: toInstant(use.reading.atMs) },
    due: due.map((item, place) => toDueDocument(item, intervals[place]?.source ?? '')),
    records: records.map(toRecordDocument),
  };
}

/** How far the hours of a machine went, as far back as its records ask for. */
async function hourUse(
  store: Store,
  { machineId, lastSampleMs }: StoredMachine,
  records: readonly StoredServiceRecord[],
): Promise<HourUse> {
  const reading = await latestReading(store, machineId, lastSampleMs);
  // The last weeks are always wanted: they say what the next ones will be like.
  const oldestMs = Math.min(lastSampleMs - 28 * dayMs, ...records.map(({ atMs }) => atMs));
  const fromMs = Math.max(oldestMs, lastSampleMs - runningDays * dayMs);
  const rows = (await store.listRows([machineId], fromMs, lastSampleMs + 1)).get(machineId) ?? [];
  const running = rows
    .filter(({ runningS }) => runningS > 0)
    .map(({ startedMs, runningS }) => ({ startedMs, runningS }));
  return { reading, running };
}

async function latestReading(store: Store, machineId: string, lastSampleMs: number): Promise<HourUse['reading']> {
  const blocks = await store.readSamples({
    machineId,
    fromMs: lastSampleMs - readingDays * dayMs,
    toMs: lastSampleMs + 1,
    channels: ['engineHours'],
  });
  for (let b = blocks.length - 1; b >= 0; b--) {
    const { timeMs, channels } = blocks[b] as (typeof blocks)[number];
    const hours = channels.engineHours;
    if (hours === undefined) continue;
    for (let i = timeMs.length - 1; i >= 0; i--) {
      const engineHours = hours[i] as number;
      if (engineHours === engineHours) return { engineHours, atMs: timeMs[i] as number };
    }
  }
  return null;
}

function toDueDocument(due: ServiceDue, source: string): MachineService['due'][number] {
  const { lastMs, dueMs, interval, ...rest } = due;
  return {
    ...rest,
    interval: { ...interval },
    source,
    lastAt: lastMs === null ? null : toInstant(lastMs),
    dueAt: dueMs === null ? null : toInstant(dueMs),
  };
}

/** A record as it is shown. */
export function toRecordDocument({ atMs, recordedMs, machineId: _, ...rest }: StoredServiceRecord) {
  return { ...rest, at: toInstant(atMs), recordedAt: toInstant(recordedMs) };
}
