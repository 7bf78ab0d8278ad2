/** One part of a recording through the analysis, as a task that goes between threads. */

import type { ResidencyRow, ThresholdSet } from '@warmbrick/analysis';
import type { ReplayDocument } from '@warmbrick/contracts';
import type { ParquetPart, ReadOptions } from '@warmbrick/recordings';
import { OperatingError } from '@warmbrick/runtime';
import type { MachineProfile } from '@warmbrick/signals';
import { replayRecordings } from '../replay-recordings.js';

export interface PartTask {
  readonly path: string;
  readonly part: ParquetPart;
  /** Profiles in the order of the part's machines. */
  readonly profiles: readonly MachineProfile[];
  readonly thresholds: ThresholdSet;
  readonly reading: ReadOptions;
  readonly wantsRows: boolean;
}

export interface PartOutcome {
  /** null when the part could not be read, or not as a whole. */
  readonly document: ReplayDocument | null;
  readonly rows: readonly (readonly [machineId: string, row: ResidencyRow])[];
}

/** Replays a part. Errors: none that a recording can cause. */
export async function replayPart(task: PartTask): Promise<PartOutcome> {
  const { path, part, thresholds, reading, wantsRows } = task;
  const profiles = new Map(part.machines.map(({ machineId }, k) => [machineId, task.profiles[k] as MachineProfile]));
  const rows: [string, ResidencyRow][] = [];
  const input = {
    paths: [path],
    profiles: { profileOf: (machineId: string) => profiles.get(machineId) as MachineProfile },
    thresholds,
    reading: { ...reading, part },
    ...(wantsRows ? { onRow: (machineId: string, row: ResidencyRow) => rows.push([machineId, row]) } : {}),
  };
  try {
    const { document, damage } = await replayRecordings(input);
    return { document: damage === null ? document : null, rows };
  } catch (error) {
    if (error instanceof OperatingError) return { document: null, rows: [] };
    throw error;
  }
}
