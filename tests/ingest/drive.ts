/** A machine's day for tests of the pipeline, from the simulator, and what a store holds in the end. */

import { builtInThresholds, findingKinds } from '@warmbrick/analysis';
import { createIngest, type Ingest, type IngestOptions } from '@warmbrick/ingest';
import { blockChannels, machineProfileSchema, type SampleBlock, sliceBlock } from '@warmbrick/signals';
import { createSimulation, type DutySegment, type SimulatedMachine } from '@warmbrick/simulator';
import type { Store } from '@warmbrick/store';

export const startMs = Date.UTC(2026, 2, 10, 6);

const schedule: readonly DutySegment[] = [
  { kind: 'start', durationS: 15 },
  { kind: 'work', durationS: 1500, loadPct: 70 },
  { kind: 'idle', durationS: 4200 },
  { kind: 'work', durationS: 900, loadPct: 85 },
  { kind: 'off', durationS: 1200 },
];

/** An idle streak of over an hour, and a stop right after hard work. */
export function simulated(machineId: string): SampleBlock {
  const machine: SimulatedMachine = {
    machineId,
    habit: 'careful',
    profile: { name: machineId },
    schedule,
    channels: ['engineSpeedRpm', 'engineLoadPct', 'scrInletTempC', 'turbineOutTempC', 'coolantTempC', 'fuelRateLPerH'],
  };
  const block = createSimulation(machine, { seed: 7, startMs }).advanceTo(startMs + 7_700_000);
  if (block === null) throw new Error('the simulated machine sent nothing');
  return block;
}

/** Pieces of so many samples. */
export function pieces(block: SampleBlock, length: number): SampleBlock[] {
  const found: SampleBlock[] = [];
  for (let from = 0; from < block.timeMs.length; from += length) {
    found.push(sliceBlock(block, from, Math.min(from + length, block.timeMs.length)));
  }
  return found;
}

const quiet = { info: () => {}, warn: () => {}, error: () => {} };

export function testIngest(store: Store, options: Partial<IngestOptions> = {}): Ingest {
  return createIngest({
    store,
    thresholds: builtInThresholds,
    logger: quiet,
    now: () => startMs + 8_000_000,
    ...options,
  });
}

export const profileOf = (machineId: string) => machineProfileSchema.parse({ name: machineId });

/** Everything a store says about a machine, in a form that can be compared. */
export async function contentsOf(store: Store, machineId: string) {
  const machine = await store.getMachine(machineId);
  const findings = await store.listFindings({ machineId, limit: 500, kinds: [...findingKinds] });
  const rows = (await store.listRows([machineId], 0, startMs * 2)).get(machineId) ?? [];
  const samples = await store.readSamples({ machineId, fromMs: 0, toMs: startMs * 2 });
  return {
    summary: machine?.summary,
    // When a finding was last made hangs on the batches; what it says does not.
    findings: findings.items.map((finding) => ({ ...finding, emittedMs: null })).sort((a, b) => (a.id < b.id ? -1 : 1)),
    rows,
    samples: samples.flatMap((block) =>
      Array.from(block.timeMs, (timeMs, i) => [
        timeMs,
        ...blockChannels(block).map((name) => block.channels[name]?.[i]),
      ]),
    ),
  };
}
