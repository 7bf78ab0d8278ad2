/** Lays the samples of a source down by machine and stretch of time, as units that sets are judged on. */

import { createHash } from 'node:crypto';
import { join } from 'node:path';
import type { DamagedRecordingError } from '@warmbrick/recordings';
import { type FaultReport, type MachineProfile, sliceBlock } from '@warmbrick/signals';
import type { TrialSource } from '../trial/trial-source.js';
import { appendBlock } from './unit-file.js';

/** One machine over one stretch, its samples in a file. */
export interface LaidUnit {
  readonly index: number;
  readonly path: string;
  readonly machineId: string;
  readonly profile: MachineProfile;
  fromMs: number;
  toMs: number;
  samples: number;
}

export interface LaidUnits {
  /** By machine, then time. */
  readonly units: readonly LaidUnit[];
  readonly faults: ReadonlyMap<string, readonly FaultReport[]>;
  /** Changes with any bit of any sample. */
  readonly fingerprint: string;
  readonly samples: number;
  readonly damage: DamagedRecordingError | null;
}

export interface LayingOptions {
  readonly folder: string;
  /** A new unit begins here for every machine; null: nowhere in particular. */
  readonly partAtMs: number | null;
  readonly onProgress?: (samples: number) => void;
}

/**
 * A longer stretch is judged as several units, each analysed by itself, so that memory has a bound.
 * Source: engineering judgement: a machine-month at 1 Hz.
 */
const longestUnitMs = 31 * 86_400_000;

/** Lays everything down. Errors: those of the source and of the file system. */
export async function layUnits(source: TrialSource, options: LayingOptions): Promise<LaidUnits> {
  const byMachine = new Map<string, LaidUnit[]>();
  const faults = new Map<string, FaultReport[]>();
  let hash = createHash('sha256');
  let samples = 0;
  let made = 0;
  const damage = await source.feed({
    block(block, profile) {
      const units = byMachine.get(block.machineId) ?? [];
      byMachine.set(block.machineId, units);
      for (let from = 0; from < block.timeMs.length; ) {
        const firstMs = block.timeMs[from] as number;
        let unit = units.at(-1);
        if (unit === undefined || firstMs >= endOf(unit, options.partAtMs)) {
          const index = made++;
          const path = join(options.folder, `unit-${index}.bin`);
          unit = { index, path, machineId: block.machineId, profile, fromMs: firstMs, toMs: firstMs, samples: 0 };
          units.push(unit);
        }
        let to = from;
        while (to < block.timeMs.length && (block.timeMs[to] as number) < endOf(unit, options.partAtMs)) to++;
        hash.update(appendBlock(unit.path, sliceBlock(block, from, to)));
        unit.toMs = block.timeMs[to - 1] as number;
        unit.samples += to - from;
        from = to;
      }
      samples += block.timeMs.length;
      options.onProgress?.(samples);
    },
    faults(reports) {
      for (const report of reports) faults.set(report.machineId, [...(faults.get(report.machineId) ?? []), report]);
    },
    restart() {
      byMachine.clear();
      faults.clear();
      hash = createHash('sha256');
      samples = 0;
    },
  });
  const inOrder = [...byMachine].sort(([a], [b]) => (a < b ? -1 : 1)).flatMap(([, units]) => units);
  return { units: inOrder, faults, fingerprint: hash.digest('hex'), samples, damage };
}

function endOf({ fromMs }: LaidUnit, partAtMs: number | null): number {
  const endMs = fromMs + longestUnitMs;
  return partAtMs !== null && fromMs < partAtMs ? Math.min(endMs, partAtMs) : endMs;
}
