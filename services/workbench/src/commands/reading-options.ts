/** Options that every command has which reads recordings. */

import type { ReadOptions } from '@warmbrick/recordings';
import { type Command, InvalidArgumentError, Option } from 'commander';

export interface ReadingFlags {
  readonly machine?: string;
  readonly only?: string;
  readonly grid: number;
  readonly start?: number;
  readonly fill: number;
  readonly quiet?: boolean;
}

/** Adds the options to a command. */
export function addReadingOptions(command: Command): Command {
  return command
    .option('--machine <id>', 'name of the machine, for recordings that name none (default: the name of the file)')
    .option('--only <id>', 'keep only this machine of a recording that names machines')
    .addOption(
      new Option('--grid <s>', 'step in seconds that CAN frames are resampled to').default(1).argParser(gridStep),
    )
    .addOption(
      new Option('--start <time>', 'RFC 3339 time that the relative times of a log count from').argParser(instant),
    )
    .addOption(
      new Option('--fill <s>', 'carry a channel into samples that lack it, for at most so many seconds')
        .default(0)
        .argParser(fillSeconds),
    )
    .option('--quiet', 'no progress on stderr');
}

/** What the readers are told. */
export function readOptionsOf(flags: ReadingFlags): ReadOptions {
  return {
    gridMs: flags.grid * 1000,
    fillS: flags.fill,
    ...(flags.machine === undefined ? {} : { machineId: flags.machine }),
    ...(flags.only === undefined ? {} : { onlyMachineId: flags.only }),
    ...(flags.start === undefined ? {} : { startMs: flags.start }),
  };
}

function gridStep(text: string): number {
  return between(text, 0.01, 3600);
}

function fillSeconds(text: string): number {
  return between(text, 0, 3600);
}

function between(text: string, min: number, max: number): number {
  const value = Number(text);
  if (text.trim() === '' || !(value >= min && value <= max)) {
    throw new InvalidArgumentError(`Expected a number of seconds from ${min} to ${max}.`);
  }
  return value;
}

/** Reads an RFC 3339 time as epoch milliseconds. Errors: InvalidArgumentError for anything else. */
export function instant(text: string): number {
  const isComplete = /^\d{4}-\d{2}-\d{2}[Tt ]\d{2}:\d{2}(:\d{2}(\.\d+)?)?([Zz]|[+-]\d{2}:\d{2})$/.test(text);
  const atMs = isComplete ? Date.parse(text) : Number.NaN;
  if (!(atMs >= 0)) throw new InvalidArgumentError('Expected a time with its offset, such as 2026-03-02T06:00:00Z.');
  return atMs;
}
