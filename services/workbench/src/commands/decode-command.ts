/** `warmbrick decode`: what a recording holds, as a table of channels or of fault codes. */

import {
  DamagedRecordingError,
  openFaultWriter,
  openWriter,
  readUnordered,
  type WriteFormat,
} from '@warmbrick/recordings';
import { type Command, Option } from 'commander';
import type { Console } from '../console.js';
import { exitCodes } from '../exit-codes.js';
import { createProgress } from '../progress.js';
import { addReadingOptions, type ReadingFlags, readOptionsOf } from './reading-options.js';

interface DecodeFlags extends ReadingFlags {
  readonly to: WriteFormat;
  readonly out: string;
  readonly faults?: boolean;
}

/** Adds the command to the program. */
export function addDecodeCommand(program: Command, console: Console, setExitCode: (code: number) => void): void {
  const command = program
    .command('decode')
    .description('turn recordings into a table of channels, or of fault codes')
    .argument('<file...>', 'recordings of any known format; "-" reads standard input')
    .addOption(new Option('--to <format>', 'format of the table').choices(['csv', 'ndjson', 'parquet']).default('csv'))
    .option('--out <path>', 'file to write; "-" is standard output', '-')
    .option('--faults', 'the fault codes instead of the channels');
  addReadingOptions(command).action(async (files: string[], flags: DecodeFlags) => {
    setExitCode(await decode(files, flags, console));
  });
}

async function decode(files: readonly string[], flags: DecodeFlags, console: Console): Promise<number> {
  const progress = createProgress(console, flags.quiet === true);
  const table = await openTable(flags);
  let damage: DamagedRecordingError | null = null;
  try {
    const report = await readUnordered(files, readOptionsOf(flags), table.sink);
    for (const warning of report.warnings) console.err(`warmbrick: ${warning}\n`);
    if (report.rejects.count > 0) console.err(`warmbrick: ${report.rejects.count} rejected\n`);
  } catch (error) {
    if (!(error instanceof DamagedRecordingError)) throw error;
    damage = error;
  } finally {
    progress.finish(await table.close());
  }
  if (damage === null) return exitCodes.done;
  console.err(`warmbrick: ${damage.toUserMessage()}\n`);
  return exitCodes.damaged;
}

async function openTable(flags: DecodeFlags): Promise<{
  sink: Parameters<typeof readUnordered>[2];
  close: () => Promise<number>;
}> {
  if (flags.faults === true) {
    const writer = await openFaultWriter(flags.to, flags.out);
    return {
      sink: { block: () => {}, faults: (reports) => writer.faults(reports), restart: () => {} },
      close: () => writer.close(),
    };
  }
  const writer = await openWriter(flags.to, flags.out);
  return { sink: { block: (block) => writer.block(block), restart: () => {} }, close: () => writer.close() };
}
