/** `warmbrick record`: cuts recordings out of the store, to keep, to share, to tune on. */

import { writeFileSync } from 'node:fs';
import { openFaultWriter, openWriter, type WriteFormat } from '@warmbrick/recordings';
import { OperatingError } from '@warmbrick/runtime';
import { channelNames } from '@warmbrick/signals';
import { type Command, Option } from 'commander';
import { openAuditedStore } from '../audit/open-audited-store.js';
import type { Console } from '../console.js';
import { exitCodes } from '../exit-codes.js';
import { createProgress } from '../progress.js';
import { cutMachine } from '../record/cut-machine.js';
import { createMask } from '../record/mask.js';
import { wholeNumber } from './number-options.js';
import { instant } from './reading-options.js';

interface RecordFlags {
  readonly from?: number;
  readonly to?: number;
  readonly out: string;
  readonly format?: WriteFormat;
  readonly faults?: string;
  readonly profiles?: string;
  readonly mask?: boolean;
  readonly shiftDays: number;
  readonly dataDir?: string;
  readonly quiet?: boolean;
}

const formats = ['csv', 'ndjson', 'parquet'] as const satisfies readonly WriteFormat[];

/** Adds the command to the program. */
export function addRecordCommand(program: Command, console: Console, setExitCode: (code: number) => void): void {
  program
    .command('record')
    .description('cut recordings of machines out of the store, as they were archived')
    .argument('<machine...>', 'ids of the machines')
    .requiredOption('--out <file>', 'file of samples; "-" is standard output')
    .addOption(new Option('--from <time>', 'from this RFC 3339 time').argParser(instant))
    .addOption(new Option('--to <time>', 'before this time').argParser(instant))
    .addOption(new Option('--format <format>', 'default: by the ending of the file, else csv').choices([...formats]))
    .option('--faults <file>', 'file of fault codes')
    .option('--profiles <file>', 'file of the machines for replay --profile')
    .option('--mask', 'machine-1 and so on instead of names, no site, no name')
    .addOption(
      wholeNumber('--shift-days <n>', 'move all times by so many days', { min: -20_000, max: 20_000 }).default(0),
    )
    .option('--data-dir <folder>', 'folder of the embedded database (default: DATABASE_URL, else the usual folder)')
    .option('--quiet', 'no progress on stderr')
    .action(async (machineIds: string[], flags: RecordFlags) => {
      setExitCode(await record(machineIds, flags, console));
    });
}

async function record(machineIds: readonly string[], flags: RecordFlags, console: Console): Promise<number> {
  const mask = createMask({ isMasked: flags.mask === true, shiftDays: flags.shiftDays });
  const progress = createProgress(console, flags.quiet === true);
  const opened = await openAuditedStore(flags.dataDir, process.env);
  try {
    const format = flags.format ?? formatOf(flags.out);
    // Standard output is written as it comes, so its columns are fixed beforehand.
    const samples = await openWriter(format, flags.out, flags.out === '-' ? { channels: channelNames } : {});
    const faults = flags.faults === undefined ? null : await openFaultWriter(formatOf(flags.faults), flags.faults);
    const profiles: Record<string, unknown> = {};
    let count = 0;
    try {
      for (const machineId of [...new Set(machineIds)]) {
        const cut = {
          store: opened.store,
          machineId,
          fromMs: flags.from ?? 0,
          toMs: flags.to ?? Number.MAX_SAFE_INTEGER,
        };
        for await (const piece of cutMachine(cut)) {
          if (piece.block !== null) samples.block(mask.block(piece.block));
          faults?.faults(piece.faults.map(mask.faults));
          if (piece.profile !== null) profiles[mask.machineId(machineId)] = mask.profile(piece.profile);
          count += piece.block?.timeMs.length ?? 0;
          progress.report(count);
        }
      }
    } finally {
      await samples.close();
      await faults?.close();
    }
    if (flags.profiles !== undefined) writeProfiles(flags.profiles, profiles);
    progress.finish(count);
    return warnWhenEmpty(count, console);
  } finally {
    await opened.close();
  }
}

function warnWhenEmpty(count: number, console: Console): number {
  if (count > 0) return exitCodes.done;
  console.err('warmbrick: the store has no samples of that time; the recording is empty.\n');
  return exitCodes.damaged;
}

function formatOf(path: string): WriteFormat {
  return formats.find((format) => path.replace(/\.gz$/, '').endsWith(`.${format}`)) ?? 'csv';
}

function writeProfiles(path: string, machines: Readonly<Record<string, unknown>>): void {
  try {
    writeFileSync(path, `${JSON.stringify({ default: {}, machines }, null, 1)}\n`);
  } catch (cause) {
    throw new OperatingError(`cannot be written: ${(cause as Error).message}.`, {
      code: 'output-unwritable',
      where: path,
      remedy: 'Check that the folder exists and that you may write to it.',
      cause,
    });
  }
}
