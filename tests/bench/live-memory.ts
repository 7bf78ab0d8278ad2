/** What the states of many machines take in memory. */

import { builtInThresholds, createTimeline } from '@warmbrick/analysis';
import { defaultProfile, type SampleBlock, sliceBlock } from '@warmbrick/signals';
import { createSimulation, quarryFleet } from '@warmbrick/simulator';
import { benchChannels } from './bench-file.js';

export interface MemoryFigures {
  readonly machines: number;
  readonly heapMb: number;
  readonly residentMb: number;
}

const startMs = Date.UTC(2026, 2, 2, 6);
const dayMs = 86_400_000;
/** Samples of a batch of one machine. */
const packetLength = 60;

/** A day of a working machine; each machine of the bench has the same one. */
export function sixChannels(): SampleBlock {
  const machine = quarryFleet[0];
  if (machine === undefined) throw new Error('the fleet is empty');
  const block = createSimulation(machine, { seed: 1, startMs }).advanceTo(startMs + 2 * dayMs);
  if (block === null) throw new Error('the simulation sent nothing');
  const { exhaustTempC, scrInletTempC, dpfInletTempC } = block.channels;
  const channels: Record<string, unknown> = { exhaustTempC: exhaustTempC ?? scrInletTempC ?? dpfInletTempC };
  for (const name of benchChannels) channels[name] ??= block.channels[name];
  for (const name of Object.keys(channels)) if (channels[name] === undefined) delete channels[name];
  return { ...block, channels };
}

/** The timelines of so many machines after half an hour of work each. */
export async function measureMemory(count: number): Promise<MemoryFigures> {
  const day = sliceBlock(sixChannels(), 0, 1800);
  const ports = { readArchive: async () => [], snapshotBefore: async () => null, findingIdsSince: async () => [] };
  const memory = () => {
    (globalThis as { gc?: () => void }).gc?.();
    return process.memoryUsage();
  };
  const before = memory();
  const held = [];
  for (let k = 0; k < count; k++) {
    const machineId = `memory-${k}`;
    const timeline = createTimeline({ machineId, profile: defaultProfile, thresholds: builtInThresholds, ports });
    for (let from = 0; from < 1800; from += packetLength) {
      await timeline.accept({ ...sliceBlock(day, from, from + packetLength), machineId });
    }
    held.push(timeline);
  }
  const after = memory();
  if (held.length !== count) throw new Error('not all are held');
  return {
    machines: count,
    heapMb:
      (after.heapUsed + after.external + after.arrayBuffers - before.heapUsed - before.external - before.arrayBuffers) /
      1e6,
    residentMb: after.rss / 1e6,
  };
}
