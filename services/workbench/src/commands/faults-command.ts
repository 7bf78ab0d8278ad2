/** `warmbrick faults`: the fault log of a recorded machine in plain words. */

import { builtInThresholds, faultKey } from '@warmbrick/analysis';
import { type FaultLine, type FaultSort, faultSorts, toFaultLine } from '@warmbrick/contracts';
import { groupCodes } from '@warmbrick/reports';
import { type Command, Option } from 'commander';
import type { Console } from '../console.js';
import { exitCodes } from '../exit-codes.js';
import { type RecordedMachine, readMachine } from '../faults/read-machine.js';
import { plainProfiles, readProfileBook } from '../profile-book.js';
import { createProgress } from '../progress.js';
import { faultLogText } from '../text/fault-text.js';
import { addReadingOptions, type ReadingFlags, readOptionsOf } from './reading-options.js';

interface FaultsFlags extends ReadingFlags {
  readonly profile?: string;
  readonly sort: FaultSort;
  readonly json?: boolean;
}

/** Adds the command to the program. */
export function addFaultsCommand(program: Command, console: Console, setExitCode: (code: number) => void): void {
  const command = program
    .command('faults')
    .description('list every fault code of a recorded machine, with when it was active, in plain words')
    .argument('<file...>', 'recordings that hold fault codes, such as CAN logs; "-" reads standard input')
    .addOption(
      new Option('--sort <how>', 'by how often, by when last seen, or by when first seen')
        .choices([...faultSorts])
        .default('occurrence'),
    )
    .option('--profile <file>', 'JSON file with the profile of the machine')
    .option('--json', 'print one JSON document');
  addReadingOptions(command).action(async (files: string[], flags: FaultsFlags) => {
    setExitCode(await faults(files, flags, console));
  });
}

async function faults(files: readonly string[], flags: FaultsFlags, console: Console): Promise<number> {
  const progress = createProgress(console, flags.quiet === true);
  const profiles = flags.profile === undefined ? plainProfiles : await readProfileBook(flags.profile);
  const machine = await readMachine({
    paths: files,
    machineId: flags.only ?? null,
    reading: { ...readOptionsOf(flags), lendBlocks: true, channels: ['engineSpeedRpm'] },
    profileOf: profiles.profileOf,
    thresholds: builtInThresholds,
    onProgress: progress.report,
  });
  progress.finish(0);
  const lines = logLines(machine, flags.sort);
  const { machineId, profile, damage } = machine;
  if (flags.json === true) console.out(`${JSON.stringify({ machineId, faults: lines }, null, 1)}\n`);
  else console.out(faultLogText(machineId, lines, profile.timeZone));
  if (damage === null) return exitCodes.done;
  console.err(`warmbrick: ${damage.toUserMessage()}\n`);
  return exitCodes.damaged;
}

/** The lines of a machine's log in an order; the same three as the API's. */
function logLines({ faults }: RecordedMachine, sort: FaultSort): FaultLine[] {
  const groups = groupCodes(faults, { fromMs: Number.NEGATIVE_INFINITY, toMs: Number.POSITIVE_INFINITY });
  const parts = groups.flatMap(({ episodes }) => {
    const [newest] = episodes;
    if (newest === undefined) return [];
    return [
      {
        code: faultKey(newest),
        occurrences: episodes.length,
        firstMs: Math.min(...episodes.map(({ startedMs }) => startedMs)),
        lastSeenMs: Math.max(...episodes.map(({ lastSeenMs }) => lastSeenMs)),
        isActive: episodes.some(({ endedMs }) => endedMs === null),
        episodes,
      },
    ];
  });
  type Part = (typeof parts)[number];
  const rank: Readonly<Record<FaultSort, (part: Part) => number>> = {
    // The controller counts further back than we have seen it.
    occurrence: ({ occurrences, episodes }) => -Math.max(occurrences, ...episodes.map((one) => one.reportedCount ?? 0)),
    time: ({ lastSeenMs }) => -lastSeenMs,
    first: ({ firstMs }) => firstMs,
  };
  const by = rank[sort];
  parts.sort((a, b) => by(a) - by(b) || b.lastSeenMs - a.lastSeenMs || (a.code < b.code ? -1 : 1));
  return parts.map((part) => toFaultLine(part));
}
