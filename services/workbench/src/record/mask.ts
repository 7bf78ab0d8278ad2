/** Taking away what tells whose machine it is. */

import type { FaultReport, MachineProfile, SampleBlock } from '@warmbrick/signals';

export interface Mask {
  machineId(machineId: string): string;
  block(block: SampleBlock): SampleBlock;
  faults(report: FaultReport): FaultReport;
  profile(profile: MachineProfile): Partial<MachineProfile>;
}

export interface MaskOptions {
  readonly isMasked: boolean;
  /** Whole days, so that times keep their time of day. */
  readonly shiftDays: number;
}

const dayMs = 86_400_000;

/**
 * Creates a mask; one that masks nothing gives everything as it is. Machines are numbered in the order in which they are
 * first met. What the samples themselves tell, such as engine hours, stays: it is what is analysed.
 */
export function createMask({ isMasked, shiftDays }: MaskOptions): Mask {
  const names = new Map<string, string>();
  const byMs = shiftDays * dayMs;
  const machineId = (id: string) => {
    if (!isMasked) return id;
    const known = names.get(id) ?? `machine-${names.size + 1}`;
    names.set(id, known);
    return known;
  };
  return {
    machineId,
    block: (block) => ({
      ...block,
      machineId: machineId(block.machineId),
      timeMs: byMs === 0 ? block.timeMs : block.timeMs.map((timeMs) => timeMs + byMs),
    }),
    faults: (report) => ({ ...report, machineId: machineId(report.machineId), timeMs: report.timeMs + byMs }),
    profile(profile) {
      if (!isMasked) return profile;
      const { name: _name, site: _site, ...rest } = profile;
      return rest;
    },
  };
}
