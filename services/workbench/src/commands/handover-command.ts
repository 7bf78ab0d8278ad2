/** `warmbrick handover`: the sheet for the dealer, from recordings or from the store. */

import { writeFile } from 'node:fs/promises';
import { builtInThresholds } from '@warmbrick/analysis';
import { type HandoverDocument, type HandoverFormat, handoverFormats } from '@warmbrick/contracts';
import { gatherHandover, handoverEndMs, renderHandover } from '@warmbrick/reports';
import { OperatingError } from '@warmbrick/runtime';
import { type Command, Option } from 'commander';
import { openAuditedStore } from '../audit/open-audited-store.js';
import type { Console } from '../console.js';
import { exitCodes } from '../exit-codes.js';
import { handoverOfRecordings } from '../faults/handover-of-recordings.js';
import { handoverChannels } from '../faults/read-machine.js';
import { plainProfiles, readProfileBook } from '../profile-book.js';
import { createProgress } from '../progress.js';
import { software } from '../software.js';
import { addReadingOptions, instant, type ReadingFlags, readOptionsOf } from './reading-options.js';

interface HandoverFlags extends ReadingFlags {
  readonly profile?: string;
  readonly from?: number;
  readonly to?: number;
  readonly mask?: boolean | string;
  readonly format: HandoverFormat;
  readonly out?: string;
  readonly stored?: boolean;
  readonly dataDir?: string;
  readonly madeAt?: number;
}

/** Period that a stored machine's sheet covers when none was asked for. Source: engineering judgement. */
const usualPeriodMs = 30 * 86_400_000;
/** Stands for a machine whose name is not to be told. */
const plainLabel = 'Masked machine';

/** Adds the command to the program. */
export function addHandoverCommand(program: Command, console: Console, setExitCode: (code: number) => void): void {
  const command = program
    .command('handover')
    .description(
      'make the sheet for the dealer: every code that ever occurred, derates and their origin, what was done',
    )
    .argument('<machine-or-file...>', 'recordings of the machine; with --stored the id of a machine in the store')
    .option('--stored', 'take the machine from the store instead of recordings')
    .option('--data-dir <folder>', 'folder of the embedded database (default: DATABASE_URL, else the usual folder)')
    .addOption(new Option('--from <time>', 'begin of the period, RFC 3339').argParser(instant))
    .addOption(new Option('--to <time>', 'end of the period').argParser(instant))
    .option('--mask [label]', 'leave out which machine it is and where it works; a label to call it by, if you like')
    .addOption(new Option('--format <form>', 'form of the sheet').choices([...handoverFormats]).default('html'))
    .option('--out <file>', 'write it there; without it the sheet goes to standard output')
    .option('--profile <file>', 'JSON file with the profile of the machine')
    .addOption(
      new Option('--made-at <time>', 'time that the sheet says it was made at (default: now)').argParser(instant),
    );
  addReadingOptions(command).action(async (names: string[], flags: HandoverFlags) => {
    setExitCode(await handover(names, flags, console));
  });
}

async function handover(names: readonly string[], flags: HandoverFlags, console: Console): Promise<number> {
  if (flags.format === 'pdf' && flags.out === undefined) {
    throw new OperatingError('a PDF is not for a terminal.', {
      code: 'output-unwritable',
      where: '--format pdf',
      remedy: 'Name a file with --out, such as --out handover.pdf.',
    });
  }
  const { document, exitCode } =
    flags.stored === true ? await fromStore(names, flags) : await fromRecordings(names, flags, console);
  const { body } = await renderHandover(document, flags.format);
  if (flags.out === undefined) console.out(String(body));
  else await write(flags.out, body);
  return exitCode;
}

async function write(path: string, body: Uint8Array | string): Promise<void> {
  try {
    await writeFile(path, body);
  } catch (cause) {
    const remedy = 'Check the folder and the free space.';
    throw new OperatingError('the sheet cannot be written.', { code: 'output-unwritable', where: path, remedy, cause });
  }
}

async function fromRecordings(paths: readonly string[], flags: HandoverFlags, console: Console) {
  if (paths.includes('-')) {
    throw new OperatingError('standard input can be read only once, and a sheet needs its recordings twice.', {
      code: 'recording-unreadable',
      where: '-',
      remedy: 'Save it to a file and name that.',
    });
  }
  const profiles = flags.profile === undefined ? plainProfiles : await readProfileBook(flags.profile);
  const progress = createProgress(console, flags.quiet === true);
  const input = {
    paths,
    machineId: flags.only ?? null,
    reading: { ...readOptionsOf(flags), channels: handoverChannels },
    profileOf: profiles.profileOf,
    thresholds: builtInThresholds,
    onProgress: progress.report,
  };
  const { document, damage } = await handoverOfRecordings(input, {
    period: { fromMs: flags.from ?? null, toMs: flags.to ?? null },
    maskLabel: typeof flags.mask === 'string' ? flags.mask : flags.mask === true ? plainLabel : null,
    madeAtMs: flags.madeAt ?? Date.now(),
    software,
  });
  progress.finish(0);
  if (damage !== null) console.err(`warmbrick: ${damage.toUserMessage()}\n`);
  return { document, exitCode: damage === null ? exitCodes.done : exitCodes.damaged };
}

async function fromStore(
  [machineId = '', ...others]: readonly string[],
  flags: HandoverFlags,
): Promise<{ document: HandoverDocument; exitCode: number }> {
  if (others.length > 0) {
    throw new OperatingError('a sheet is of one machine.', {
      code: 'machine-absent',
      where: others.join(', '),
      remedy: 'Name one machine at a time.',
    });
  }
  const opened = await openAuditedStore(flags.dataDir, process.env);
  try {
    const lastSampleMs = (await opened.store.getMachine(machineId))?.lastSampleMs ?? null;
    const toMs = flags.to ?? (await handoverEndMs(opened.store, { machineId, lastSampleMs }, Date.now()));
    const document = await gatherHandover(opened.store, {
      machineId,
      period: { fromMs: flags.from ?? toMs - usualPeriodMs, toMs },
      isMasked: flags.mask !== undefined,
      madeAtMs: flags.madeAt ?? Date.now(),
      software,
    });
    if (document !== null) return { document, exitCode: exitCodes.done };
  } finally {
    await opened.close();
  }
  throw new OperatingError('Nothing is stored of this machine.', {
    code: 'machine-absent',
    where: machineId,
    remedy: 'See `warmbrick audit` for the machines of the store, or name recordings without --stored.',
  });
}
