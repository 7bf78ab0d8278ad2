/** The file that the replay bench reads: simulated machines, so that the duty has the shape of real days. */

import { existsSync, mkdirSync, renameSync, statSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { openWriter } from '@warmbrick/recordings';
import type { ChannelName, Column, SampleBlock } from '@warmbrick/signals';
import { createSimulation, quarryFleet } from '@warmbrick/simulator';

const cacheFolder = fileURLToPath(new URL('.cache/', import.meta.url));
/** The three signals that everything needs, and three more that most gateways send. */
export const benchChannels = [
  'engineSpeedRpm',
  'engineLoadPct',
  'exhaustTempC',
  'coolantTempC',
  'ambientTempC',
  'fuelRateLPerH',
] as const satisfies readonly ChannelName[];

const dayMs = 86_400_000;
const startMs = Date.UTC(2026, 2, 2);

export interface BenchFile {
  readonly path: string;
  readonly bytes: number;
}

/**
 * Writes the file unless it is there already; the same numbers give the same file.
 *
 * Shapes: `machines` x `days` at 1 Hz, machine after machine, in order of time.
 */
export async function benchFile(machines: number, days: number): Promise<BenchFile> {
  const path = `${cacheFolder}fleet-${machines}x${days}-v2.parquet`;
  if (!existsSync(path)) {
    mkdirSync(cacheFolder, { recursive: true });
    process.stderr.write(`simulating ${machines} machines x ${days} days into ${path}\n`);
    const writer = await openWriter('parquet', `${path}.part`);
    for (let k = 0; k < machines; k++) {
      const machine = quarryFleet[k % quarryFleet.length];
      if (machine === undefined) throw new Error('the fleet is empty');
      const machineId = `${machine.machineId}-${k}`;
      const simulation = createSimulation({ ...machine, machineId }, { seed: k + 1, startMs });
      for (let day = 1; day <= days; day++) {
        const block = simulation.advanceTo(startMs + day * dayMs - 1);
        if (block !== null) writer.block(benchColumns(block));
      }
    }
    await writer.close();
    renameSync(`${path}.part`, path);
  }
  return { path, bytes: statSync(path).size };
}

/** Every machine gets the same six columns, with the exhaust temperature under its general name. */
function benchColumns(block: SampleBlock): SampleBlock {
  const { exhaustTempC, scrInletTempC, dpfInletTempC } = block.channels;
  const exhaust = exhaustTempC ?? scrInletTempC ?? dpfInletTempC;
  const channels: Partial<Record<ChannelName, Column>> = {
    ...(exhaust === undefined ? {} : { exhaustTempC: exhaust }),
  };
  for (const name of benchChannels) {
    const column = block.channels[name];
    if (column !== undefined) channels[name] = column;
  }
  return { machineId: block.machineId, timeMs: block.timeMs, channels };
}
