/** `warmbrick replay`: recordings in, findings and scores out. */

import { availableParallelism } from 'node:os';
import type { ResidencyRow } from '@warmbrick/analysis';
import type { ReplayDocument } from '@warmbrick/contracts';
import type { Command } from 'commander';
import type { Console } from '../console.js';
import { exitCodes } from '../exit-codes.js';
import { plainProfiles, readProfileBook } from '../profile-book.js';
import { createProgress } from '../progress.js';
import { letHeapGrow } from '../replay/let-heap-grow.js';
import { replayOnThreads } from '../replay/replay-on-threads.js';
import type { ReplayInput } from '../replay-recordings.js';
import { createDayPictures, type DayPictures } from '../text/day-picture.js';
import { reportText } from '../text/report-text.js';
import { builtInName, readThresholdSet } from '../thresholds/threshold-file.js';
import { wholeNumber } from './number-options.js';
import { addReadingOptions, type ReadingFlags, readOptionsOf } from './reading-options.js';

interface ReplayFlags extends ReadingFlags {
  readonly profile?: string;
  readonly with: string;
  readonly threads: number;
  readonly json?: boolean;
  readonly jsonl?: boolean;
}

/** Threads at most. Source: design decision. */
const mostThreads = 64;

/** Adds the command to the program. */
export function addReplayCommand(program: Command, console: Console, setExitCode: (code: number) => void): void {
  const command = program
    .command('replay')
    .description('analyse recordings: time in the window, idle streaks, hot stops, soot risk')
    .argument('<file...>', 'recordings of any known format; "-" reads standard input')
    .option('--profile <file>', 'JSON file with the profile of the machine, or of several by name')
    .option('--with <file>', 'JSON file of a threshold set', builtInName)
    .addOption(
      wholeNumber('--threads <n>', 'threads that share the machines of one Parquet file', {
        min: 1,
        max: mostThreads,
      }).default(Math.min(mostThreads, availableParallelism())),
    )
    .option('--json', 'print one JSON document')
    .option('--jsonl', 'print a line of JSON for each machine, and one for the reading as a whole');
  addReadingOptions(command).action(async (files: string[], flags: ReplayFlags) => {
    setExitCode(await replay(files, flags, console));
  });
}

async function replay(files: readonly string[], flags: ReplayFlags, console: Console): Promise<number> {
  const profiles = flags.profile === undefined ? plainProfiles : await readProfileBook(flags.profile);
  const pictures = new Map<string, DayPictures>();
  const isText = flags.json !== true && flags.jsonl !== true;
  const progress = createProgress(console, flags.quiet === true);
  letHeapGrow();
  const input: ReplayInput = {
    paths: files,
    profiles,
    thresholds: await readThresholdSet(flags.with),
    reading: readOptionsOf(flags),
    onProgress: progress.report,
    ...(isText ? { onRow: (machineId: string, row: ResidencyRow) => pictureOf(pictures, machineId).add(row) } : {}),
  };
  const { document, damage } = await replayOnThreads(input, flags.threads);
  progress.finish(document.reading.samples);
  if (flags.json === true) console.out(`${JSON.stringify(document, null, 1)}\n`);
  else if (flags.jsonl === true) console.out(jsonLines(document));
  else console.out(reportText({ document, pictures, profileOf: profiles.profileOf }));
  if (damage === null) return exitCodes.done;
  console.err(`warmbrick: ${damage.toUserMessage()}\n`);
  return exitCodes.damaged;
}

function pictureOf(pictures: Map<string, DayPictures>, machineId: string): DayPictures {
  const known = pictures.get(machineId) ?? createDayPictures();
  pictures.set(machineId, known);
  return known;
}

function jsonLines(document: ReplayDocument): string {
  const { machines, ...rest } = document;
  return [...machines, rest].map((line) => `${JSON.stringify(line)}\n`).join('');
}
