/** Intake from a folder: recordings that somebody drops into it. */

import { rmdir, writeFile } from 'node:fs/promises';
import { basename, dirname, join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import type { ReadReport } from '@warmbrick/recordings';
import { OperatingError } from '@warmbrick/runtime';
import type { IngestLogger } from '../ingest-types.js';
import type { Intake } from '../intake.js';
import { type FileClaims, type FolderPaths, joinFolder, makeFolders } from './claim-files.js';
import { type CompleteFiles, fileState, watchForComplete } from './complete-files.js';
import { type FolderSettings, type FolderSettingsInput, folderSettingsSchema } from './folder-settings.js';
import { moveInto } from './move-file.js';
import { type FileTaker, type TakenFile, takeFile } from './take-file.js';

export interface FolderOptions extends FolderSettingsInput {
  readonly intake: Intake;
  readonly logger: IngestLogger;
}

export interface FolderStats {
  readonly done: number;
  readonly failed: number;
  readonly samples: number;
  readonly faultReports: number;
  /** Lines, rows and frames that could not be read. */
  readonly rejects: number;
  readonly retries: number;
}

export interface FolderWatch {
  stats(): FolderStats;
  /** Ends after the batch in work; a file that is not finished goes back to the inbox. */
  stop(): Promise<void>;
}

interface Watch {
  readonly settings: FolderSettings;
  readonly taker: FileTaker;
  readonly paths: FolderPaths;
  readonly claims: FileClaims;
  readonly files: CompleteFiles;
  readonly counts: { -readonly [K in keyof FolderStats]: FolderStats[K] };
  readonly signal: AbortSignal;
  readonly logger: IngestLogger;
}

/** Signs of life in the time after which we would be taken for dead. */
const signsInTime = 4;
/** Files on which another look at the inbox waits. Source: engineering judgement. */
const filesPerLook = 100;

/**
 * Watches a folder until it is stopped.
 *
 * Errors: ZodError for settings that are wrong; those of the file system when the folders cannot be made.
 */
export async function watchFolder(options: FolderOptions): Promise<FolderWatch> {
  const { intake, logger, ...given } = options;
  const settings = folderSettingsSchema.parse(given);
  const paths = await makeFolders(settings.folder);
  const claims = await joinFolder(paths, settings.abandonedMs);
  const counts = { done: 0, failed: 0, samples: 0, faultReports: 0, rejects: 0, retries: 0 };
  const stopping = new AbortController();
  const { signal } = stopping;
  const onRetry = () => {
    counts.retries++;
  };
  const taker: FileTaker = { intake, settings, logger, spoolPath: join(claims.own, '.spool'), onRetry };
  const files = watchForComplete(paths.inbox, settings.unchangedMs);
  const watching = watch({ settings, taker, paths, claims, files, counts, signal, logger });
  const sign = setInterval(() => {
    claims.showLife().catch((error: unknown) => logger.warn({ err: error }, 'no sign of life could be given'));
  }, settings.abandonedMs / signsInTime);
  return {
    stats: () => ({ ...counts }),
    async stop() {
      stopping.abort();
      await watching;
      clearInterval(sign);
      await claims.leave();
    },
  };
}

async function watch(the: Watch): Promise<void> {
  const { settings, claims, files, signal, logger } = the;
  while (!signal.aborted) {
    try {
      await claims.putBack();
      await claims.adopt(performance.now());
      for (const name of (await files.look(performance.now())).slice(0, filesPerLook)) {
        if (!signal.aborted) await workFile(the, name);
      }
    } catch (error) {
      // A disk that is full or away: what we hold goes back with the next look and is tried again.
      logger.error({ err: error, folder: settings.folder }, 'the folder cannot be worked just now');
    }
    await sleep(settings.lookEveryMs, undefined, { signal }).catch(() => {});
  }
}

async function workFile(the: Watch, name: string): Promise<void> {
  const { claims, taker, signal, logger } = the;
  const path = await claims.claim(name);
  if (path === null) return;
  const before = await fileState(path);
  try {
    const taken = await takeFile(taker, path, signal);
    // Somebody still writes to it: whatever was read was true, and the rest is read in the next turn.
    if ((await fileState(path)) !== before) return await claims.putBack();
    await putAway(the, path, taken);
  } catch (error) {
    if (error instanceof OperatingError && (error.isRetriable || signal.aborted || error.code === 'ingest-closed')) {
      logger.warn({ code: error.code, file: name }, 'a file goes back to the inbox');
      return await claims.putBack();
    }
    if (isOfFileSystem(error)) throw error;
    logger.error({ err: error, file: name }, 'a file cannot be worked');
    const failure = 'It cannot be worked because of a fault of the program; the log says more.';
    await putAway(the, path, { failure, report: null, samples: 0, faultReports: 0 });
  }
}

async function putAway({ paths, counts, logger }: Watch, path: string, taken: TakenFile): Promise<void> {
  const { failure, report, samples, faultReports } = taken;
  const folder = failure === null ? paths.done : paths.failed;
  const name = await moveInto(path, folder, basename(path));
  await rmdir(dirname(path)).catch(() => {});
  if (name === null) {
    logger.warn({ file: basename(path) }, 'a file was taken from us because we looked dead; it will be read again');
    return;
  }
  const text = reasonText(taken).replaceAll(path, basename(path));
  if (failure !== null) await writeFile(join(folder, `${name}.reason.txt`), text);
  else if (report !== null && report.rejects.count > 0) await writeFile(join(folder, `${name}.rejects.txt`), text);
  if (failure === null) counts.done++;
  else counts.failed++;
  counts.samples += samples;
  counts.faultReports += faultReports;
  counts.rejects += report?.rejects.count ?? 0;
  logger.info({ file: name, samples, faultReports, isDone: failure === null }, 'a file was read');
}

/** What a person needs to know about a file that was not taken, or not whole. */
function reasonText({ failure, report, samples, faultReports }: TakenFile): string {
  const lines = failure === null ? [] : [failure];
  lines.push(`${samples} samples and ${faultReports} fault reports of it were taken in.`);
  if (report !== null) lines.push(...rejectLines(report), ...report.warnings);
  return `${lines.join('\n')}\n`;
}

function rejectLines({ rejects }: ReadReport): string[] {
  if (rejects.count === 0) return [];
  const examples = rejects.examples.map(({ where, reason, detail }) => `  ${where}: ${reason}: ${detail}`);
  return [`${rejects.count} lines or rows were not taken. The first of them:`, ...examples];
}

function isOfFileSystem(error: unknown): boolean {
  return error instanceof Error && 'syscall' in error;
}
