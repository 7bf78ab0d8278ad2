/** States of the machines of claimed partitions: valid for one owner, dropped with the partition. */

import type { PartitionBatch, TopicPartition } from '@warmbrick/kafka';
import type { CursorMove } from '@warmbrick/store';
import { type LoadOptions, loadMachine, type MachineState } from '../machine-states.js';
import { createFrameTails, type FrameTails } from '../messages/frame-tails.js';
import { setBookOf } from '../set-book.js';

/** The time during which nobody but us can have written what belongs to a partition. */
export interface Tenure {
  readonly key: string;
  /** Machines whose states it holds or has held. */
  readonly machines: Set<string>;
  /** Transfers of frames that its last message of a machine broke off. */
  readonly tails: FrameTails;
  epoch: number;
  /** Where the partition stands as far as we have committed. */
  nextOffset: number;
}

export interface PartitionStates {
  /** The tenure under which a batch is worked; what was held under an older one is void. */
  enter(batch: PartitionBatch): Tenure;
  /** The machine's state as of its last commit. Errors: those of the store. */
  machine(tenure: Tenure, machineId: string, fence: CursorMove): Promise<MachineState>;
  /** Tells that everything up to the end of a batch is committed. */
  committed(tenure: Tenure, nextOffset: number): void;
  /** Forgets everything held under a tenure: it may be ahead of the store, or somebody else may have written. */
  drop(tenure: Tenure): void;
  /** Forgets the partitions that are not among these. */
  keepOnly(partitions: readonly TopicPartition[]): void;
  /** Machines held in memory. */
  size(): number;
}

interface Held {
  readonly tenure: Tenure;
  readonly machine: MachineState;
}

/** Key of a partition; topic names hold no slash. Source: Kafka, legal characters of topic names. */
export function partitionKey({ topic, partition }: TopicPartition): string {
  return `${topic}/${partition}`;
}

/** Makes an empty set that holds at most `most` machines, those used last. */
export function createPartitionStates(options: LoadOptions & { readonly most: number }): PartitionStates {
  const tenures = new Map<string, Tenure>();
  const held = new Map<string, Held>();

  const drop = (tenure: Tenure) => {
    if (tenures.get(tenure.key) === tenure) tenures.delete(tenure.key);
    for (const machineId of tenure.machines) if (held.get(machineId)?.tenure === tenure) held.delete(machineId);
    tenure.machines.clear();
  };
  const enter = (batch: PartitionBatch) => {
    const key = partitionKey(batch);
    const last = tenures.get(key);
    if (last !== undefined && isContinued(last, batch)) {
      last.epoch = batch.epoch;
      return last;
    }
    if (last !== undefined) drop(last);
    const tenure = {
      key,
      machines: new Set<string>(),
      tails: createFrameTails(),
      epoch: batch.epoch,
      nextOffset: batch.expectedOffset,
    };
    tenures.set(key, tenure);
    return tenure;
  };
  const keep = (tenure: Tenure, machine: MachineState) => {
    const { machineId } = machine;
    held.delete(machineId);
    // A tenure that was dropped meanwhile leaves nothing behind.
    if (tenures.get(tenure.key) !== tenure) return;
    held.set(machineId, { tenure, machine });
    tenure.machines.add(machineId);
    if (held.size <= options.most) return;
    const oldest = held.keys().next().value as string;
    held.get(oldest)?.tenure.machines.delete(oldest);
    held.delete(oldest);
  };

  return {
    enter,
    async machine(tenure, machineId, fence) {
      const known = held.get(machineId);
      const promotion = await setBookOf(options.store).lastPromotion();
      const isValid = known !== undefined && known.tenure === tenure && known.machine.promotion === promotion;
      const machine = isValid ? known.machine : await loadMachine(options, machineId, fence);
      keep(tenure, machine);
      return machine;
    },
    committed: (tenure, nextOffset) => {
      tenure.nextOffset = nextOffset;
    },
    drop,
    keepOnly(partitions) {
      const kept = new Set(partitions.map(partitionKey));
      for (const tenure of [...tenures.values()]) if (!kept.has(tenure.key)) drop(tenure);
    },
    size: () => held.size,
  };
}

/**
 * Every claim raises the epoch by one. So when ours is the next one after ours, nobody has owned the partition in between,
 * and what we hold is what is stored.
 */
function isContinued(last: Tenure, batch: PartitionBatch): boolean {
  return last.nextOffset === batch.expectedOffset && batch.epoch - last.epoch <= 1 && batch.epoch >= last.epoch;
}
