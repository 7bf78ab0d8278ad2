/** One recording to the intake, in order and no faster than it is taken. */

import { rm } from 'node:fs/promises';
import { basename } from 'node:path';
import { DamagedRecordingError, type ReadReport, readInOrder } from '@warmbrick/recordings';
import { OperatingError, retrying } from '@warmbrick/runtime';
import type { SampleBlock } from '@warmbrick/signals';
import type { IngestLogger } from '../ingest-types.js';
import type { Intake, IntakeOrigin } from '../intake.js';
import { type BlockSpool, openBlockSpool } from './block-spool.js';
import type { FolderSettings } from './folder-settings.js';

export interface FileTaker {
  readonly intake: Intake;
  readonly settings: FolderSettings;
  readonly logger: IngestLogger;
  /** Where samples are laid down between reader and intake. */
  readonly spoolPath: string;
  readonly onRetry: () => void;
}

/** What became of a file. */
export interface TakenFile {
  /** Null when nothing was wrong with it; else why it does not count as done, for a person to read. */
  readonly failure: string | null;
  /** Null when nothing could be read. */
  readonly report: ReadReport | null;
  readonly samples: number;
  readonly faultReports: number;
}

/** Samples handed over at once, about. Source: engineering judgement: a transaction of a second or less. */
const samplesPerBatch = 100_000;
/** Blocks of them: a fleet's file can have many small ones. Source: engineering judgement. */
const blocksPerBatch = 2000;

/**
 * Takes a recording. What is good of a damaged one is taken too.
 *
 * Errors: what says nothing about the file: OperatingError `ingest-closed`, what passes once `signal` ends the waiting, and
 * those of the file system. To take the file again then does no harm.
 */
export async function takeFile(taker: FileTaker, path: string, signal: AbortSignal): Promise<TakenFile> {
  const spool = openBlockSpool(taker.spoolPath, taker.settings.mostSpoolBytes);
  try {
    const { report, failure } = await layDown(path, spool);
    if (report === null) return { failure, report, samples: 0, faultReports: 0 };
    try {
      const sent = await handOver(taker, spool, { origin: { way: 'folder', name: basename(path) }, signal });
      return { failure, report, ...sent };
    } catch (error) {
      if (!isRefusal(error)) throw error;
      return { failure: `The pipeline refuses it: ${error.toUserMessage()}`, report, samples: 0, faultReports: 0 };
    }
  } finally {
    spool.close();
    await rm(taker.spoolPath, { force: true });
  }
}

async function layDown(path: string, spool: BlockSpool): Promise<Pick<TakenFile, 'report' | 'failure'>> {
  const sink = { block: spool.addBlock, faults: spool.addFaults, restart: spool.restart };
  try {
    return { report: await readInOrder([path], { lendBlocks: true }, sink), failure: null };
  } catch (error) {
    if (!(error instanceof OperatingError) || error.isRetriable) throw error;
    const failure = error.toUserMessage().replaceAll(path, basename(path));
    return { report: error instanceof DamagedRecordingError ? error.report : null, failure };
  }
}

async function handOver(
  taker: FileTaker,
  spool: BlockSpool,
  { origin, signal }: { origin: IntakeOrigin; signal: AbortSignal },
): Promise<{ samples: number; faultReports: number }> {
  const { intake, settings, logger } = taker;
  const sent = { samples: 0, faultReports: 0 };
  let batch: SampleBlock[] = [];
  let batchSamples = 0;
  const untilItWorks = (job: () => Promise<void>) =>
    retrying(job, {
      firstMs: settings.firstRetryMs,
      longestMs: settings.longestRetryMs,
      signal,
      onRetry: (error, waitMs) => {
        taker.onRetry();
        logger.warn({ code: error.code, waitMs, file: origin.name }, 'a file waits for the pipeline');
      },
    });
  const flush = async () => {
    if (signal.aborted) throw stopped();
    const blocks = batch;
    if (blocks.length > 0) await untilItWorks(() => intake.samples(blocks, origin));
    sent.samples += batchSamples;
    batch = [];
    batchSamples = 0;
  };
  for await (const each of spool.read()) {
    if (each.form === 'faults') {
      // Before the samples that reach their time.
      await untilItWorks(() => intake.faults(each.reports, origin));
      sent.faultReports += each.reports.length;
      continue;
    }
    batch.push(each.block);
    batchSamples += each.block.timeMs.length;
    if (batchSamples >= samplesPerBatch || batch.length >= blocksPerBatch) await flush();
  }
  await flush();
  return sent;
}

/** Whether the pipeline will never take it. */
function isRefusal(error: unknown): error is OperatingError {
  return error instanceof OperatingError && !error.isRetriable && error.code !== 'ingest-closed';
}

function stopped(): OperatingError {
  return new OperatingError('The folder is no longer watched.', { code: 'ingest-closed' });
}
