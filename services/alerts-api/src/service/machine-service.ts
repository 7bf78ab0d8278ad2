/** What is due on a machine, with what it rests on, out of the store. */

import { type ServiceDue, serviceDue } from '@warmbrick/analysis';
import { type MachineService, toInstant } from '@warmbrick/contracts';
import { readHourUse, type Store, type StoredMachine, type StoredServiceRecord } from '@warmbrick/store';

/** The document of one machine. */
export async function machineService(store: Store, machine: StoredMachine, nowMs: number): Promise<MachineService> {
  const { machineId, profile } = machine;
  const records = await store.listServiceRecords(machineId);
  const use = await readHourUse(store, machine, Math.min(Infinity, ...records.map(({ atMs }) => atMs)));
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
