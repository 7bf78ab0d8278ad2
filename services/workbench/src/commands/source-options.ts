/** Options of the commands that take recordings or stored periods. */

import { OperatingError } from '@warmbrick/runtime';
import { type Command, Option } from 'commander';
import { type AuditedStore, openAuditedStore } from '../audit/open-audited-store.js';
import { plainProfiles, readProfileBook } from '../profile-book.js';
import { recordingSource, storedSource, type TrialSource } from '../trial/trial-source.js';
import { addReadingOptions, instant, type ReadingFlags, readOptionsOf } from './reading-options.js';

export interface SourceFlags extends ReadingFlags {
  readonly profile?: string;
  readonly stored?: readonly string[] | boolean;
  readonly from?: number;
  readonly to?: number;
  readonly dataDir?: string;
}

export interface OpenedSource {
  readonly source: TrialSource;
  close(): Promise<void>;
}

/** Machines listed at a time. */
const pageItems = 500;

/** Adds the options to a command. */
export function addSourceOptions(command: Command): Command {
  return addReadingOptions(command)
    .option('--profile <file>', 'JSON file with the profile of the machine, or of several by name')
    .option('--stored [machine...]', 'take these machines, or all, from the store instead of recordings')
    .addOption(new Option('--from <time>', 'with --stored: from this RFC 3339 time').argParser(instant))
    .addOption(new Option('--to <time>', 'with --stored: before this time').argParser(instant))
    .option('--data-dir <folder>', 'folder of the embedded database (default: DATABASE_URL, else the usual folder)');
}

/**
 * Opens what the flags name.
 *
 * Errors: OperatingError `recording-absent` when neither files nor --stored were given, or both; those of the store.
 */
export async function openSource(files: readonly string[], flags: SourceFlags): Promise<OpenedSource> {
  const isStored = flags.stored !== undefined && flags.stored !== false;
  if (isStored === files.length > 0) {
    throw new OperatingError(isStored ? 'both recordings and --stored were given.' : 'no recording was named.', {
      code: 'recording-absent',
      remedy: 'Name recordings, or take machines from the store with --stored.',
    });
  }
  if (!isStored) {
    const profiles = flags.profile === undefined ? plainProfiles : await readProfileBook(flags.profile);
    return { source: recordingSource(files, profiles, readOptionsOf(flags)), close: async () => {} };
  }
  const opened = await openAuditedStore(flags.dataDir, process.env);
  try {
    const machineIds = Array.isArray(flags.stored) ? flags.stored : await allMachines(opened);
    const period = { machineIds, fromMs: flags.from ?? 0, toMs: flags.to ?? Number.MAX_SAFE_INTEGER };
    return { source: storedSource(opened.store, period), close: () => opened.close() };
  } catch (error) {
    await opened.close();
    throw error;
  }
}

async function allMachines({ store }: AuditedStore): Promise<string[]> {
  const ids: string[] = [];
  for (let cursor: string | null | undefined; cursor !== null; ) {
    const page: Awaited<ReturnType<typeof store.listMachines>> = await store.listMachines({
      sort: 'name',
      limit: pageItems,
      cursor,
    });
    ids.push(...page.items.map((machine) => machine.machineId));
    cursor = page.nextCursor;
  }
  return ids;
}
