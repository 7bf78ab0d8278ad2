/** Batches of partitions -> what they change: decoding, analysis and packing; holds the states of the machines. */

import { setImmediate as breathe } from 'node:timers/promises';
import type { PartitionBatch, TopicPartition } from '@warmbrick/kafka';
import type { FaultReport, SampleBlock } from '@warmbrick/signals';
import { type CursorMove, type MachineChange, packChange, type RejectedMessage } from '@warmbrick/store';
import { changeOfBatch } from '../machine-batch.js';
import type { LoadOptions } from '../machine-states.js';
import { cursorSource } from './cursor-source.js';
import { type DecodedBatch, decodeBatch } from './decode-batch.js';
import { createPartitionStates, type PartitionStates, type Tenure } from './partition-states.js';

/** What batches of different partitions change together. */
export interface Analysed {
  /** Packed. */
  readonly changes: readonly MachineChange[];
  readonly rejects: readonly RejectedMessage[];
  readonly samples: number;
  /** Tells how the commit ended; until then no other batch works on these machines. */
  settle(isCommitted: boolean): void;
}

export interface Analyst {
  /**
   * Decodes and analyses batches of different partitions at a time of the wall clock; writes nothing. `beat` is called
   * now and then; when it throws, the work ends.
   *
   * Errors: those of the store and of `beat`; what was held for these partitions is forgotten then.
   */
  analyse(batches: readonly PartitionBatch[], nowMs: number, beat: () => Promise<void>): Promise<Analysed>;
  /** Forgets what is held for partitions that are not among these. */
  keepOnly(partitions: readonly TopicPartition[]): void;
  /** Machines held in memory. */
  machines(): number;
  close(): Promise<void>;
}

export interface AnalystOptions extends LoadOptions {
  /** Machines held in memory at most. */
  readonly most: number;
  /** The topic of fault reports; every other one is of samples. */
  readonly faultsTopic: string;
  /** Samples later than the clock by more than this are put aside. */
  readonly futureMs: number;
}

interface Desk extends AnalystOptions {
  readonly states: PartitionStates;
  /** Ends of the commits that are still under way, by machine. */
  readonly inWork: Map<string, Promise<void>>;
}

/** Machines whose states are loaded at once, and between which others get a turn. Source: engineering judgement. */
const machinesPerSlice = 8;

/** An analyst that works in the thread that asks. */
export function createAnalyst(options: AnalystOptions): Analyst {
  const desk: Desk = { ...options, states: createPartitionStates(options), inWork: new Map() };
  const { states, inWork } = desk;
  return {
    async analyse(batches, nowMs, beat) {
      const tenures = batches.map((batch) => states.enter(batch));
      try {
        const { shares, rejects, samples } = await decodeAll(desk, batches, { tenures, nowMs, beat });
        const changes = await analyseShares(desk, shares, beat);
        const release = holdMachines(inWork, [...shares.keys()]);
        return {
          changes,
          rejects,
          samples,
          settle(isCommitted) {
            for (const [at, tenure] of tenures.entries()) {
              if (isCommitted) states.committed(tenure, (batches[at] as PartitionBatch).nextOffset);
              else states.drop(tenure);
            }
            release();
          },
        };
      } catch (error) {
        // What is held may be ahead of the store.
        for (const tenure of tenures) states.drop(tenure);
        throw error;
      }
    },
    keepOnly: (partitions) => states.keepOnly(partitions),
    machines: () => states.size(),
    close: async () => {},
  };
}

/** A machine's part of the batches. */
interface Share {
  readonly tenure: Tenure;
  readonly fence: CursorMove;
  readonly blocks: SampleBlock[];
  readonly reports: FaultReport[];
}

interface DecodeAll {
  readonly tenures: readonly Tenure[];
  readonly nowMs: number;
  readonly beat: () => Promise<void>;
}

async function decodeAll(desk: Desk, batches: readonly PartitionBatch[], { tenures, nowMs, beat }: DecodeAll) {
  const shares = new Map<string, Share>();
  const rejects: RejectedMessage[] = [];
  let samples = 0;
  for (const [at, batch] of batches.entries()) {
    const { topic, partition, epoch, expectedOffset } = batch;
    const source = cursorSource(topic);
    const kind = topic === desk.faultsTopic ? 'faults' : 'samples';
    const tenure = tenures[at] as Tenure;
    const { tails } = tenure;
    const decoded = await decodeBatch(batch, { kind, source, nowMs, futureMs: desk.futureMs, tails });
    const fence = { source, partition, epoch, nextOffset: expectedOffset };
    addShares(shares, decoded, { tenure, fence });
    rejects.push(...decoded.rejects);
    samples += decoded.samples;
    await beat();
  }
  return { shares, rejects, samples };
}

function addShares(
  shares: Map<string, Share>,
  { blocks, reports }: DecodedBatch,
  place: { tenure: Tenure; fence: CursorMove },
): void {
  for (const [machineId, own] of blocks) {
    const share = shares.get(machineId);
    // The tenure of its samples: fault reports need no state.
    if (share === undefined || share.blocks.length === 0) {
      shares.set(machineId, { ...place, blocks: own, reports: share?.reports ?? [] });
    } else share.blocks.push(...own);
  }
  for (const [machineId, own] of reports) {
    const share = shares.get(machineId);
    if (share === undefined) shares.set(machineId, { ...place, blocks: [], reports: own });
    else share.reports.push(...own);
  }
}

/** Machines side by side only as far as reading their states goes; a slice is short, so that heartbeats come in time. */
async function analyseShares(
  desk: Desk,
  shares: ReadonlyMap<string, Share>,
  beat: () => Promise<void>,
): Promise<MachineChange[]> {
  const changes: MachineChange[] = [];
  const machineIds = [...shares.keys()];
  for (let from = 0; from < machineIds.length; from += machinesPerSlice) {
    const slice = machineIds.slice(from, from + machinesPerSlice);
    const made = await Promise.all(slice.map((id) => changeOf(desk, id, shares.get(id) as Share)));
    for (const change of made) if (change !== null) changes.push(change);
    await breathe();
    await beat();
  }
  return changes;
}

async function changeOf({ states, inWork }: Desk, machineId: string, share: Share): Promise<MachineChange | null> {
  const { tenure, fence, blocks, reports } = share;
  for (let other = inWork.get(machineId); other !== undefined; other = inWork.get(machineId)) await other;
  const change = await changeOfBatch(machineId, { blocks, reports }, () => states.machine(tenure, machineId, fence));
  return change === null ? null : packChange(change);
}

/** Until it is released, nobody else works on these machines. */
function holdMachines(inWork: Map<string, Promise<void>>, machineIds: readonly string[]): () => void {
  let end = () => {};
  const held = new Promise<void>((resolve) => {
    end = resolve;
  });
  for (const machineId of machineIds) inWork.set(machineId, held);
  return () => {
    for (const machineId of machineIds) if (inWork.get(machineId) === held) inWork.delete(machineId);
    end();
  };
}
