/** Batches of partitions -> one transaction with everything that they change. */

import type { BatchTools, PartitionBatch } from '@warmbrick/kafka';
import type { CursorMove, RejectedMessage, Store } from '@warmbrick/store';
import type { Analysed, Analyst } from './analyst.js';
import { cursorSource } from './cursor-source.js';

export interface WorkItem {
  readonly batch: PartitionBatch;
  readonly tools: BatchTools;
}

export interface WorkContext {
  readonly store: Pick<Store, 'commit'>;
  readonly analyst: Analyst;
  readonly now: () => number;
  readonly heartbeatMs: number;
  /** Makes rejects known before they are committed, so that a crash repeats them rather than losing them. */
  readonly publishRejects: (rejects: readonly RejectedMessage[]) => Promise<void>;
}

/** A transaction that is ready to be committed. */
export interface Draft extends Analysed {
  readonly cursors: readonly CursorMove[];
  readonly messages: number;
}

/**
 * Decodes and analyses batches of different partitions; nothing is written. The draft has to be settled.
 *
 * Errors: those of the store and of heartbeats.
 */
export async function draftOf({ analyst, now, heartbeatMs }: WorkContext, items: readonly WorkItem[]): Promise<Draft> {
  const batches = items.map(({ batch }) => batch);
  const analysed = await analyst.analyse(batches, now(), beatOf(items, { now, heartbeatMs }));
  return {
    ...analysed,
    cursors: batches.map(cursorAfter),
    messages: batches.reduce((sum, { messages }) => sum + messages.length, 0),
  };
}

/** Commits a draft. Errors: those of the store, and of the broker that is told the rejects. */
export async function commitDraft(context: WorkContext, { changes, cursors, rejects }: Draft): Promise<void> {
  if (rejects.length > 0) await context.publishRejects(rejects);
  await context.store.commit(changes, { cursors, rejects });
}

/** Where a batch stands after its commit. */
function cursorAfter({ topic, partition, epoch, nextOffset }: PartitionBatch): CursorMove {
  return { source: cursorSource(topic), partition, epoch, nextOffset };
}

/** All batches of a membership share its heartbeat; one that is taken away takes the others with it. */
function beatOf(
  items: readonly WorkItem[],
  { now, heartbeatMs }: Pick<WorkContext, 'now' | 'heartbeatMs'>,
): () => Promise<void> {
  let lastMs = now();
  return async () => {
    if (now() - lastMs < heartbeatMs) return;
    lastMs = now();
    for (const { tools } of items) await tools.heartbeat();
  };
}
