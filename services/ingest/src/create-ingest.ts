/** The one pipeline that every source feeds: order, analyse, commit, tell. */

import { setImmediate as breathe } from 'node:timers/promises';
import { OperatingError } from '@warmbrick/runtime';
import type { SampleBlock } from '@warmbrick/signals';
import { mergeBlocks } from '@warmbrick/signals';
import type { CursorMove, MachineChange } from '@warmbrick/store';
import { withoutFuture } from './future-samples.js';
import { type Ingest, type IngestLimits, type IngestOptions, usualIngestLimits } from './ingest-types.js';
import { createMachineTimelines, type MachineTimelines } from './machine-timelines.js';
import { retrying } from './retry.js';
import { createWorkQueue } from './work-queue.js';

interface Pipeline extends IngestOptions {
  readonly limits: IngestLimits;
  readonly timelines: MachineTimelines;
  readonly closing: AbortController;
  readonly counts: { batches: number; samples: number; rewinds: number; retries: number; fromTheFuture: number };
}

/** Creates the pipeline. It starts nothing by itself: it works while batches come. */
export function createIngest(options: IngestOptions): Ingest {
  const { store, thresholds, logger } = options;
  const limits = { ...usualIngestLimits, ...options.limits };
  const queue = createWorkQueue(limits.queuedBatches);
  const pipeline: Pipeline = {
    ...options,
    limits,
    timelines: createMachineTimelines({ store, thresholds, logger, most: limits.machinesInMemory }),
    closing: new AbortController(),
    counts: { batches: 0, samples: 0, rewinds: 0, retries: 0, fromTheFuture: 0 },
  };
  return {
    register: (machineId, profile) =>
      queue.run(async () => {
        await withRetry(pipeline, () => store.putMachine(machineId, profile));
        pipeline.timelines.drop([machineId]);
      }),
    accept: async (blocks, { cursor = null, isRecorded = false } = {}) => {
      assertSize(blocks, limits);
      await queue.run(() => takeBatch(pipeline, isRecorded ? blocks : asideFromFuture(pipeline, blocks), cursor));
    },
    stats: () => ({ ...pipeline.counts }),
    close: async () => {
      pipeline.closing.abort();
      await queue.close();
    },
  };
}

function assertSize(blocks: readonly SampleBlock[], limits: IngestLimits): void {
  const samples = blocks.reduce((sum, block) => sum + block.timeMs.length, 0);
  if (samples <= limits.samplesPerBatch) return;
  throw new OperatingError(`A batch of ${samples} samples is too large; at most ${limits.samplesPerBatch} are taken.`, {
    code: 'batch-too-large',
    remedy: 'Hand it over in smaller pieces.',
  });
}

async function takeBatch(
  pipeline: Pipeline,
  arrived: readonly SampleBlock[],
  cursor: CursorMove | null,
): Promise<void> {
  const blocks = blocksByMachine(arrived);
  const changes = await withRetry(pipeline, async () => {
    try {
      const made = await analyse(pipeline, blocks);
      if (made.length > 0 || cursor !== null) await pipeline.store.commit(made, cursor);
      return made;
    } catch (error) {
      // Whether or not the commit took effect, the store knows; what is in memory may be ahead of it.
      pipeline.timelines.drop(blocks.keys());
      throw error;
    }
  });
  count(pipeline, blocks, changes);
  tell(pipeline, changes);
}

/** One change for each machine that has one. Time for others between machines: a batch can be large. */
async function analyse(pipeline: Pipeline, blocks: ReadonlyMap<string, SampleBlock>): Promise<MachineChange[]> {
  const changes: MachineChange[] = [];
  for (const [machineId, block] of blocks) {
    const timeline = await pipeline.timelines.get(machineId);
    const change = await timeline.accept(block);
    const summary = timeline.summary();
    const isNews = change.samples.length > 0 || change.rewoundToMs !== null;
    if (isNews && summary !== null) changes.push({ machineId, ...change, summary, snapshot: timeline.snapshot() });
    await breathe();
  }
  return changes;
}

function blocksByMachine(blocks: readonly SampleBlock[]): Map<string, SampleBlock> {
  const byMachine = new Map<string, SampleBlock[]>();
  for (const block of blocks) {
    if (block.timeMs.length === 0) continue;
    const others = byMachine.get(block.machineId);
    if (others === undefined) byMachine.set(block.machineId, [block]);
    else others.push(block);
  }
  return new Map(
    [...byMachine].map(([machineId, own]) => [
      machineId,
      own.length === 1 ? (own[0] as SampleBlock) : mergeBlocks(machineId, own).block,
    ]),
  );
}

function asideFromFuture(pipeline: Pipeline, blocks: readonly SampleBlock[]): readonly SampleBlock[] {
  const latestMs = (pipeline.now ?? Date.now)() + pipeline.limits.futureMs;
  const split = blocks.map((block) => withoutFuture(block, latestMs));
  const fromTheFuture = split.reduce((sum, part) => sum + part.fromTheFuture, 0);
  if (fromTheFuture > 0) {
    pipeline.counts.fromTheFuture += fromTheFuture;
    pipeline.logger.warn({ samples: fromTheFuture, latestMs }, 'samples from the future were put aside');
  }
  return split.map((part) => part.block);
}

function withRetry<T>(pipeline: Pipeline, job: () => Promise<T>): Promise<T> {
  const { limits, logger, closing, counts } = pipeline;
  return retrying(job, {
    firstMs: limits.firstRetryMs,
    longestMs: limits.longestRetryMs,
    signal: closing.signal,
    onRetry: (error, waitMs) => {
      counts.retries++;
      logger.warn({ code: error.code, detail: error.message, waitMs }, 'the store did not take a batch; trying again');
    },
  });
}

function count(
  { counts }: Pipeline,
  blocks: ReadonlyMap<string, SampleBlock>,
  changes: readonly MachineChange[],
): void {
  counts.batches++;
  for (const block of blocks.values()) counts.samples += block.timeMs.length;
  for (const change of changes) if (change.rewoundToMs !== null) counts.rewinds++;
}

/** A listener that fails must not undo what is committed. */
function tell({ onChange, logger }: Pipeline, changes: readonly MachineChange[]): void {
  if (changes.length === 0) return;
  try {
    onChange?.(changes);
  } catch (error) {
    logger.error({ err: error }, 'a listener of changes failed');
  }
}
