/**
 * The one place where a machine's batch becomes what is committed of it; both ways in (the pipeline of this process and
 * Kafka) come through here, one machine at a time and in order.
 *
 * A further step belongs into `changeOfBatch`, after the timeline: it takes what the batch brought and what the timeline made
 * of it, and adds its own part to the `MachineChange`, which `libs/store` writes in the same transaction. It may read the
 * store, but writes nothing itself. `MachineChange.rewoundToMs` tells it that the past after that time is made anew. What it
 * carries from one batch of samples to the next is a field of `MachineState` (`machine-states.ts`).
 *
 * Fault reports are different: they come by a topic of their own, and another member may own its partition. What is made of
 * reports must therefore rest on nothing held in memory, only on what the commit reads after it has locked the machine's
 * row (`commit.ts` of libs/store, after `writeStanding`): there, and only there, everything of a machine is in one order.
 */

import { type FaultReport, mergeBlocks, type SampleBlock } from '@warmbrick/signals';
import type { MachineChange } from '@warmbrick/store';
import type { MachineState } from './machine-states.js';

/** What one machine sent in a batch; either may be empty. */
export interface MachineBatch {
  /** In the order of arrival, of any times. */
  readonly blocks: readonly SampleBlock[];
  readonly reports: readonly FaultReport[];
}

/**
 * Analyses a batch; what it changes must be committed before the next one, or the state be dropped. The state is loaded for
 * samples only.
 *
 * Missing: null when the batch says nothing new.
 * Errors: those of `load` and of the store that is read.
 */
export async function changeOfBatch(
  machineId: string,
  batch: MachineBatch,
  load: () => Promise<MachineState>,
): Promise<MachineChange | null> {
  const faults = batch.reports;
  const analysed = batch.blocks.length === 0 ? null : await analyseSamples(await load(), batch.blocks);
  if (analysed === null) return faults.length === 0 ? null : faultsOnly(machineId, faults);
  return { machineId, ...analysed, faults };
}

type Analysed = Omit<MachineChange, 'machineId' | 'faults'>;

async function analyseSamples(
  { machineId, timeline }: MachineState,
  blocks: readonly SampleBlock[],
): Promise<Analysed | null> {
  const block = blocks.length === 1 ? (blocks[0] as SampleBlock) : mergeBlocks(machineId, blocks).block;
  const change = await timeline.accept(block);
  const summary = timeline.summary();
  const isNews = change.samples.length > 0 || change.rewoundToMs !== null;
  return isNews && summary !== null ? { ...change, summary, snapshot: timeline.snapshot() } : null;
}

/** A change of a machine whose samples say nothing new. */
function faultsOnly(machineId: string, faults: readonly FaultReport[]): MachineChange {
  return {
    machineId,
    samples: [],
    findings: [],
    withdrawnFindingIds: [],
    rows: [],
    faults,
    summary: null,
    snapshot: null,
    keptSnapshots: [],
    rewoundToMs: null,
  };
}
