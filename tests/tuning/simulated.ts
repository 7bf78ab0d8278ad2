/** Simulated machines with their samples and truth, made once for a test file. */

import { analysedChannels } from '@warmbrick/analysis';
import { type MachineProfile, machineProfileSchema, type SampleBlock } from '@warmbrick/signals';
import { createSimulation, type FleetPlan, type TruthEvent, variedFleet } from '@warmbrick/simulator';

export interface SimulatedRecord {
  readonly machineId: string;
  readonly profile: MachineProfile;
  readonly blocks: readonly SampleBlock[];
  readonly truth: readonly TruthEvent[];
}

const startMs = Date.UTC(2026, 2, 2, 4);
const hourMs = 3_600_000;

/** Samples of a varied fleet, an hour a block, with the channels that the analysis reads. */
export function simulateFleet(plan: FleetPlan): SimulatedRecord[] {
  return variedFleet(plan).map((machine) => {
    const simulation = createSimulation(machine, { seed: plan.seed, startMs });
    const blocks: SampleBlock[] = [];
    for (let hour = 1; hour <= plan.days * 24; hour++) {
      const block = simulation.advanceTo(startMs + hour * hourMs);
      if (block !== null) blocks.push(onlyAnalysed(block));
    }
    const profile = machineProfileSchema.parse(machine.profile);
    return { machineId: machine.machineId, profile, blocks, truth: [...simulation.truth] };
  });
}

function onlyAnalysed(block: SampleBlock): SampleBlock {
  const channels = Object.fromEntries(
    Object.entries(block.channels).filter(([name]) => (analysedChannels as readonly string[]).includes(name)),
  );
  return { ...block, channels };
}

/** Every so many samples only: a gateway with a longer period. */
export function thinned(record: SimulatedRecord, every: number): SimulatedRecord {
  const blocks = record.blocks.map((block) => {
    const some = <Values extends Float32Array | Float64Array>(values: Values) =>
      values.filter((_, i) => i % every === 0);
    const channels = Object.entries(block.channels).map(([name, column]) => [name, some(column)]);
    return { ...block, timeMs: some(block.timeMs) as Float64Array, channels: Object.fromEntries(channels) };
  });
  return { ...record, blocks: blocks.filter(({ timeMs }) => timeMs.length > 0) };
}
