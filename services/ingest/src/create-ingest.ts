/** The one pipeline that every source feeds: order, analyse, commit, tell. */

import { setImmediate as breathe } from 'node:timers/promises';
import { OperatingError, retrying } from '@warmbrick/runtime';
import type { FaultReport, SampleBlock } from '@warmbrick/signals';
import type { CursorMove, MachineChange } from '@warmbrick/store';
import { withoutFuture } from './future-samples.js';
import { type Ingest, type IngestLimits, type IngestOptions, usualIngestLimits } from './ingest-types.js';
import { changeOfBatch, type MachineBatch } from './machine-batch.js';
import { createMachineStates, type MachineStates } from './machine-states.js';
import { createWorkQueue } from './work-queue.js';

interface Pipeline extends IngestOptions {
  readonly limits: IngestLimits;
  readonly machines: MachineStates;
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
    machines: createMachineStates({ store, thresholds, logger, most: limits.machinesInMemory }),
    closing: new AbortController(),
    counts: { batches: 0, samples: 0, rewinds: 0, retries: 0, fromTheFuture: 0 },
  };
  return {
    register: (machineId, profile) =>
      queue.run(async () => {
        await withRetry(pipeline, () => store.putMachine(machineId, profile));
        pipeline.machines.drop([machineId]);
      }),
    accept: async (blocks, { cursor = null, isRecorded = false, reports = [] } = {}) => {
      assertSize(blocks, limits);
      await queue.run(() => {
        const arrived = isRecorded ? blocks : asideFromFuture(pipeline, blocks);
        return takeBatch(pipeline, byMachine(arrived, reports), cursor);
      });
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
  batches: ReadonlyMap<string, MachineBatch>,
  cursor: CursorMove | null,
): Promise<void> {
  const changes = await withRetry(pipeline, async () => {
    try {
      const made = await analyse(pipeline, batches);
      if (made.length > 0 || cursor !== null) await pipeline.store.commit(made, cursor);
      return made;
    } catch (error) {
      // Whether or not the commit took effect, the store knows; what is in memory may be ahead of it.
      pipeline.machines.drop(batches.keys());
      throw error;
    }
  });
  count(pipeline, batches, changes);
  tell(pipeline, changes);
}

/** One change for each machine that has one. Time for others between machines: a batch can be large. */
async function analyse(pipeline: Pipeline, batches: ReadonlyMap<string, MachineBatch>): Promise<MachineChange[]> {
  const changes: MachineChange[] = [];
  for (const [machineId, batch] of batches) {
    const change = await changeOfBatch(machineId, batch, () => pipeline.machines.get(machineId));
    if (change !== null) changes.push(change);
    await breathe();
  }
  return changes;
}

function byMachine(blocks: readonly SampleBlock[], reports: readonly FaultReport[]): Map<string, MachineBatch> {
  const batches = new Map<string, { blocks: SampleBlock[]; reports: FaultReport[] }>();
  const of = (machineId: string) => {
    const batch = batches.get(machineId) ?? { blocks: [], reports: [] };
    batches.set(machineId, batch);
    return batch;
  };
  for (const block of blocks) if (block.timeMs.length > 0) of(block.machineId).blocks.push(block);
  for (const report of reports) of(report.machineId).reports.push(report);
  return batches;
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
  batches: ReadonlyMap<string, MachineBatch>,
  changes: readonly MachineChange[],
): void {
  counts.batches++;
  for (const { blocks } of batches.values()) for (const block of blocks) counts.samples += block.timeMs.length;
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
