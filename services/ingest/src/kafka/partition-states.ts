/** Timelines of the machines of claimed partitions: valid for one owner, dropped with the partition. */

import type { Timeline } from '@warmbrick/analysis';
import type { PartitionBatch, TopicPartition } from '@warmbrick/kafka';
import type { CursorMove } from '@warmbrick/store';
import { type LoadOptions, loadTimeline } from '../machine-timelines.js';

/** The time during which nobody but us can have written what belongs to a partition. */
export interface Tenure {
  readonly key: string;
  /** Machines whose timelines it holds or has held. */
  readonly machines: Set<string>;
  epoch: number;
  /** Where the partition stands as far as we have committed. */
  nextOffset: number;
}

export interface PartitionStates {
  /** The tenure under which a batch is worked; what was held under an older one is void. */
  enter(batch: PartitionBatch): Tenure;
  /** The machine's timeline as of its last commit. Errors: those of the store. */
  timeline(tenure: Tenure, machineId: string, fence: CursorMove): Promise<Timeline>;
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
  readonly timeline: Timeline;
}

/** Key of a partition; topic names hold no slash. Source: Kafka, legal characters of topic names. */
export function partitionKey({ topic, partition }: TopicPartition): string {
  return `${topic}/${partition}`;
}

/** Makes an empty set that holds at most `most` timelines, those used last. */
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
    const tenure = { key, machines: new Set<string>(), epoch: batch.epoch, nextOffset: batch.expectedOffset };
    tenures.set(key, tenure);
    return tenure;
  };
  const keep = (tenure: Tenure, timeline: Timeline) => {
    const { machineId } = timeline;
    held.delete(machineId);
    // A tenure that was dropped meanwhile leaves nothing behind.
    if (tenures.get(tenure.key) !== tenure) return;
    held.set(machineId, { tenure, timeline });
    tenure.machines.add(machineId);
    if (held.size <= options.most) return;
    const oldest = held.keys().next().value as string;
    held.get(oldest)?.tenure.machines.delete(oldest);
    held.delete(oldest);
  };

  return {
    enter,
    async timeline(tenure, machineId, fence) {
      const known = held.get(machineId);
      const isValid = known !== undefined && known.tenure === tenure;
      const timeline = isValid ? known.timeline : await loadTimeline(options, machineId, fence);
      keep(tenure, timeline);
      return timeline;
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
