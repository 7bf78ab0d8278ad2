/** A simulation into files: samples, fault codes, truth, profiles. */

import { closeSync, openSync, writeFileSync, writeSync } from 'node:fs';
import { openFaultWriter, openWriter, type WriteFormat } from '@warmbrick/recordings';
import { OperatingError } from '@warmbrick/runtime';
import { channelNames } from '@warmbrick/signals';
import { createSimulation } from '@warmbrick/simulator';
import type { SimulationPlan } from './simulation-plan.js';
import { truthLine } from './truth-lines.js';

export interface SimulationFiles {
  readonly to: WriteFormat;
  /** "-" is standard output. */
  readonly out: string;
  readonly faults?: string;
  readonly truth?: string;
  readonly profiles?: string;
}

/** Samples are made and written in pieces of this length, so that memory does not grow with the days. */
const pieceMs = 6 * 3_600_000;

/**
 * Writes a simulation machine by machine, each in order of time, and gives the number of samples.
 *
 * Errors: `output-unwritable`.
 */
export async function writeSimulation(
  plan: SimulationPlan,
  files: SimulationFiles,
  onSamples: (samples: number) => void,
): Promise<number> {
  if (files.profiles !== undefined) writeProfiles(plan, files.profiles);
  const truth = files.truth === undefined ? null : openLines(files.truth);
  const channels = channelNames.filter((name) => plan.fleet.some((one) => (one.channels as string[]).includes(name)));
  const samples = await openWriter(files.to, files.out, { channels });
  const faults = files.faults === undefined ? null : await openFaultWriter(files.to, files.faults);
  let count = 0;
  try {
    for (const machine of plan.fleet) {
      const simulation = createSimulation(machine, { seed: plan.seed, startMs: plan.startMs });
      for (let atMs = plan.startMs; atMs < plan.endMs; ) {
        atMs = Math.min(plan.endMs, atMs + pieceMs);
        const block = simulation.advanceTo(atMs);
        if (block !== null) samples.block(block);
        faults?.faults(simulation.takeFaults());
        count += block?.timeMs.length ?? 0;
        onSamples(count);
        // Lets the process see signals between two pieces.
        await new Promise((resolve) => setImmediate(resolve));
      }
      for (const event of simulation.truth) truth?.write(truthLine(machine.machineId, event, true));
      for (const event of simulation.ongoing()) truth?.write(truthLine(machine.machineId, event, false));
    }
  } finally {
    truth?.close();
    await samples.close();
    await faults?.close();
  }
  return count;
}

/** A profile file that `warmbrick replay --profile` reads. */
function writeProfiles(plan: SimulationPlan, path: string): void {
  const machines = Object.fromEntries(plan.fleet.map(({ machineId, profile }) => [machineId, profile]));
  guarded(path, () => writeFileSync(path, `${JSON.stringify({ default: {}, machines }, null, 1)}\n`));
}

function openLines(path: string): { write(text: string): void; close(): void } {
  const handle = guarded(path, () => openSync(path, 'w'));
  return {
    write: (text) => void guarded(path, () => writeSync(handle, text)),
    close: () => closeSync(handle),
  };
}

function guarded<Result>(path: string, work: () => Result): Result {
  try {
    return work();
  } catch (cause) {
    throw new OperatingError(`cannot be written: ${(cause as Error).message}.`, {
      code: 'output-unwritable',
      where: path,
      remedy: 'Check that the folder exists and that you may write to it.',
      cause,
    });
  }
}
