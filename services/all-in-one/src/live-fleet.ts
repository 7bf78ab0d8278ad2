/** The simulated fleet in real time, so that there is something to see before a real machine is connected. */

import { setImmediate as breathe, setTimeout as sleep } from 'node:timers/promises';
import type { Ingest } from '@warmbrick/ingest';
import { type Column, type FaultReport, machineProfileSchema, type SampleBlock } from '@warmbrick/signals';
import { createSimulation, type SimulatedMachine, type Simulation } from '@warmbrick/simulator';
import type { Store } from '@warmbrick/store';

const source = 'live-fleet';
/** The same fleet at every start. Source: invented. */
const seed = 20_260_301;
/** How far back the fleet is simulated: so far that the last day of a machine whose shift ended hours ago is whole. */
const backfillMs = 36 * 3_600_000;
/** Machine time of one batch while catching up. Source: engineering judgement. */
const catchUpMs = 1_800_000;
const tickMs = 1000;
/** How far back the last known readings of a machine are looked for. */
const readingsMs = 7 * 86_400_000;

export interface LiveFleetOptions {
  readonly store: Store;
  readonly ingest: Ingest;
  readonly machines: readonly SimulatedMachine[];
  readonly signal: AbortSignal;
  /** The wall clock. */
  readonly now?: () => number;
  /** Called once, when the past is in and real time begins. */
  readonly onCaughtUp?: (samples: number) => void;
}

/** Runs the fleet until the signal; goes on where an earlier start stopped, at most 36 h back. */
export async function runLiveFleet(options: LiveFleetOptions): Promise<void> {
  const { store, ingest, machines, signal } = options;
  const now = options.now ?? Date.now;
  const { nextOffset, epoch } = await store.claim(source, 0);
  let atMs = Math.max(nextOffset, floorToTick(now() - backfillMs));
  const simulations: Simulation[] = [];
  for (const machine of machines) {
    await ingest.register(machine.machineId, machineProfileSchema.parse(machine.profile));
    const continued = nextOffset === 0 ? machine : await continuedFrom(store, machine, nextOffset);
    simulations.push(createSimulation(continued, { seed, startMs: atMs + tickMs }));
  }
  let samples = 0;
  let isCaughtUp = false;
  while (!signal.aborted) {
    const toMs = Math.min(floorToTick(now()), atMs + catchUpMs);
    if (toMs > atMs) {
      const { blocks, reports } = await advance(simulations, toMs);
      if (blocks.length + reports.length > 0) {
        await ingest.accept(blocks, { reports, cursor: { source, partition: 0, epoch, nextOffset: toMs } });
      }
      samples += blocks.reduce((sum, block) => sum + block.timeMs.length, 0);
      atMs = toMs;
    }
    if (floorToTick(now()) > atMs) continue;
    if (!isCaughtUp) options.onCaughtUp?.(samples);
    isCaughtUp = true;
    await sleep(tickMs - (now() % tickMs), undefined, { signal }).catch(() => {});
  }
}

/**
 * Asks each machine for its samples and fault reports; gives way between them, since the first step has a machine's whole
 * past to live.
 */
async function advance(
  simulations: readonly Simulation[],
  toMs: number,
): Promise<{ blocks: SampleBlock[]; reports: FaultReport[] }> {
  const blocks: SampleBlock[] = [];
  const reports: FaultReport[] = [];
  for (const simulation of simulations) {
    const block = simulation.advanceTo(toMs);
    if (block !== null) blocks.push(block);
    reports.push(...simulation.takeFaults());
    await breathe();
  }
  return { blocks, reports };
}

/** The machine with its counters and levels as they stood, so that they do not jump back at a restart. */
async function continuedFrom(store: Store, machine: SimulatedMachine, atMs: number): Promise<SimulatedMachine> {
  const { machineId } = machine;
  const range = { machineId, fromMs: atMs - readingsMs, toMs: atMs + 1 };
  const blocks = await store.readSamples({
    ...range,
    channels: ['engineHours', 'idleHours', 'defLevelPct', 'dpfSootPct'],
  });
  const last = (name: 'engineHours' | 'idleHours' | 'defLevelPct' | 'dpfSootPct') =>
    lastNumber(blocks.map((block) => block.channels[name]));
  const known = Object.entries({
    engineHours: last('engineHours'),
    idleHours: last('idleHours'),
    defLevelPct: last('defLevelPct'),
    sootPct: last('dpfSootPct'),
  }).filter(([, value]) => value !== null);
  return { ...machine, ...Object.fromEntries(known) };
}

function lastNumber(columns: readonly (Column | undefined)[]): number | null {
  for (let c = columns.length - 1; c >= 0; c--) {
    const column = columns[c];
    for (let i = (column?.length ?? 0) - 1; i >= 0; i--) {
      const value = column?.[i] as number;
      if (!Number.isNaN(value)) return value;
    }
  }
  return null;
}

function floorToTick(timeMs: number): number {
  return Math.floor(timeMs / tickMs) * tickMs;
}
