/** Batches of partitions -> one transaction with everything that they change. */

import { setImmediate as breathe } from 'node:timers/promises';
import type { BatchTools, PartitionBatch } from '@warmbrick/kafka';
import type { FaultReport, SampleBlock } from '@warmbrick/signals';
import type { CursorMove, MachineChange, RejectedMessage, Store } from '@warmbrick/store';
import { changeOfBatch } from '../machine-batch.js';
import { type DecodedBatch, decodeBatch, type TopicKind } from './decode-batch.js';
import type { PartitionStates, Tenure } from './partition-states.js';

export interface WorkItem {
  readonly batch: PartitionBatch;
  readonly tools: BatchTools;
}

export interface WorkContext {
  readonly store: Store;
  readonly states: PartitionStates;
  readonly kindOf: (topic: string) => TopicKind;
  readonly sourceOf: (topic: string) => string;
  readonly now: () => number;
  readonly futureMs: number;
  readonly heartbeatMs: number;
  /** Makes rejects known before they are committed, so that a crash repeats them rather than losing them. */
  readonly publishRejects: (rejects: readonly RejectedMessage[]) => Promise<void>;
  /** Ends of the commits that are still under way, by machine. */
  readonly machinesInWork: Map<string, Promise<void>>;
}

/** A transaction that is ready to be committed. */
export interface Draft {
  readonly changes: readonly MachineChange[];
  readonly cursors: readonly CursorMove[];
  readonly rejects: readonly RejectedMessage[];
  readonly machineIds: readonly string[];
  readonly samples: number;
  readonly messages: number;
}

/** Machines whose states are loaded at once, and between which others get a turn. Source: engineering judgement. */
const machinesPerSlice = 8;

interface Share {
  readonly tenure: Tenure;
  readonly fence: CursorMove;
  readonly blocks: SampleBlock[];
  readonly reports: FaultReport[];
}

/** Where the batch stands after its commit. */
function cursorAfter(context: Pick<WorkContext, 'sourceOf'>, batch: PartitionBatch): CursorMove {
  const { topic, partition, epoch, nextOffset } = batch;
  return { source: context.sourceOf(topic), partition, epoch, nextOffset };
}

/**
 * Decodes and analyses batches of different partitions; nothing is written.
 *
 * Errors: those of the store and of heartbeats. Whatever it throws, the tenures have to be dropped: what they hold may be
 * ahead of the store.
 */
export async function draftOf(
  context: WorkContext,
  items: readonly WorkItem[],
  tenures: readonly Tenure[],
): Promise<Draft> {
  const beat = beatOf(context, items);
  const shares = new Map<string, Share>();
  const rejects: RejectedMessage[] = [];
  let samples = 0;
  for (const [at, { batch }] of items.entries()) {
    const decoded = await decode(context, batch);
    const fence = { ...cursorAfter(context, batch), nextOffset: batch.expectedOffset };
    addShares(shares, decoded, { tenure: tenures[at] as Tenure, fence });
    rejects.push(...decoded.rejects);
    samples += decoded.samples;
    await beat();
  }
  const changes = await analyse(context, shares, beat);
  return {
    changes,
    cursors: items.map(({ batch }) => cursorAfter(context, batch)),
    rejects,
    machineIds: [...shares.keys()],
    samples,
    messages: items.reduce((sum, { batch }) => sum + batch.messages.length, 0),
  };
}

/** Commits a draft. Errors: those of the store, and of the broker that is told the rejects. */
export async function commitDraft(context: WorkContext, { changes, cursors, rejects }: Draft): Promise<void> {
  if (rejects.length > 0) await context.publishRejects(rejects);
  await context.store.commit(changes, { cursors, rejects });
}

function decode({ kindOf, sourceOf, now, futureMs }: WorkContext, batch: PartitionBatch): Promise<DecodedBatch> {
  return decodeBatch(batch, { kind: kindOf(batch.topic), source: sourceOf(batch.topic), nowMs: now(), futureMs });
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
async function analyse(
  context: WorkContext,
  shares: ReadonlyMap<string, Share>,
  beat: () => Promise<void>,
): Promise<MachineChange[]> {
  const changes: MachineChange[] = [];
  const machineIds = [...shares.keys()];
  for (let from = 0; from < machineIds.length; from += machinesPerSlice) {
    const slice = machineIds.slice(from, from + machinesPerSlice);
    const made = await Promise.all(slice.map((id) => changeOf(context, id, shares.get(id) as Share)));
    for (const change of made) if (change !== null) changes.push(change);
    await breathe();
    await beat();
  }
  return changes;
}

async function changeOf(
  { states, machinesInWork }: WorkContext,
  machineId: string,
  { tenure, fence, blocks, reports }: Share,
): Promise<MachineChange | null> {
  for (let other = machinesInWork.get(machineId); other !== undefined; other = machinesInWork.get(machineId))
    await other;
  return changeOfBatch(machineId, { blocks, reports }, () => states.machine(tenure, machineId, fence));
}

/** All batches of a membership share its heartbeat; one that is taken away takes the others with it. */
function beatOf({ now, heartbeatMs }: WorkContext, items: readonly WorkItem[]): () => Promise<void> {
  let lastMs = now();
  return async () => {
    if (now() - lastMs < heartbeatMs) return;
    lastMs = now();
    for (const { tools } of items) await tools.heartbeat();
  };
}
