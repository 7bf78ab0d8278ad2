/** Every failure that a recording can meet, in one place, so that the wording is one. */

import { tmpdir } from 'node:os';
import { nearestName, OperatingError } from '@warmbrick/runtime';
import { channelNames } from '@warmbrick/signals';
import type { ReadReport } from './recording.js';
import type { RejectTally } from './reject-tally.js';

const formatsText =
  'a candump log, a CSV of CAN frames, a CSV or NDJSON of named channels, or Parquet, each also compressed with gzip';

/** Thrown after everything readable was delivered, when a recording turned out to be cut short or damaged. */
export class DamagedRecordingError extends OperatingError {
  /** What was read all the same. */
  readonly report: ReadReport;

  constructor(first: OperatingError, report: ReadReport) {
    const { code, where, remedy, cause } = first;
    super(first.message, {
      code,
      cause,
      ...(where === undefined ? {} : { where }),
      ...(remedy === undefined ? {} : { remedy }),
    });
    this.report = report;
  }
}

export function noRecordings(): OperatingError {
  return new OperatingError('No recording is named.', {
    code: 'recording-absent',
    remedy: 'Name one file at least; "-" reads standard input.',
  });
}

export function absentFile(path: string, cause: unknown): OperatingError {
  const reason = (cause as NodeJS.ErrnoException).code;
  const isAbsent = reason === 'ENOENT' || reason === 'ENOTDIR';
  return new OperatingError(
    isAbsent ? 'There is no such file.' : `The file cannot be opened (${reason ?? 'unknown'}).`,
    {
      code: isAbsent ? 'recording-absent' : 'recording-unreadable',
      where: path,
      remedy: isAbsent ? 'Check the path; "-" reads standard input.' : 'Check that you may read it.',
      cause,
    },
  );
}

export function folderGiven(path: string): OperatingError {
  return new OperatingError('This is a folder; a recording is a file.', {
    code: 'recording-is-folder',
    where: path,
    remedy: `Name the files in it, such as ${path.replace(/\/+$/, '')}/*.parquet.`,
  });
}

export function emptyRecording(path: string): OperatingError {
  return new OperatingError('The recording is empty.', {
    code: 'recording-empty',
    where: path,
    remedy: `Expected ${formatsText}. Record or export it again.`,
  });
}

export function unknownFormat(path: string): OperatingError {
  return new OperatingError(`The content is of no known format. Expected ${formatsText}.`, {
    code: 'recording-unknown-format',
    where: path,
    remedy: 'Export it in one of these; the name of the file does not matter.',
  });
}

export function damagedRecording(path: string, what: string, cause: unknown): OperatingError {
  return new OperatingError(what, {
    code: 'recording-damaged',
    where: path,
    remedy: 'What could be decoded before the damage was read. Copy or export the file again to get the rest.',
    cause,
  });
}

export function noTimeColumn(path: string, columns: readonly string[]): OperatingError {
  return new OperatingError(`There is no column "time" among: ${listed(columns)}.`, {
    code: 'recording-no-time',
    where: path,
    remedy: 'Name the column of times "time"; it holds RFC 3339 with an offset, or UTC epoch milliseconds.',
  });
}

export function noKnownChannel(path: string, columns: readonly string[]): OperatingError {
  const what =
    columns.length === 0
      ? 'There is no column beside time and machine.'
      : `None of the columns names a known channel: ${listed(columns)}.`;
  const guesses = columns
    .map((column) => [column, nearestName(column, channelNames)] as const)
    .flatMap(([column, channel]) => (channel === null ? [] : [`"${channel}" for "${column}"`]));
  const hint = guesses.length > 0 ? `Did you mean ${listed(guesses, 5)}?` : `Known are ${listed(channelNames, 8)}.`;
  return new OperatingError(what, {
    code: 'recording-no-channel',
    where: path,
    remedy: `${hint} Names are written exactly as in the channel catalogue.`,
  });
}

export function noFrameColumns(path: string, absent: readonly string[]): OperatingError {
  return new OperatingError(
    `A CSV of CAN frames lacks the columns ${listed(absent)}. Expected time (ms), pgn, priority, source, destination (decimal) and data (bytes in hexadecimal).`,
    { code: 'recording-no-frame', where: path, remedy: 'Export it with them.' },
  );
}

export function noUsableRow(paths: readonly string[], rejects: RejectTally): OperatingError {
  const first = rejects.examples[0];
  const because =
    first === undefined
      ? 'it holds no rows for what was asked.'
      : `all ${rejects.count} were rejected; the first (${first.where}) as ${first.reason}: ${first.detail}.`;
  return new OperatingError(`There is no usable sample: ${because}`, {
    code: 'recording-no-usable-row',
    where: listed(paths, 3),
    remedy: 'Check the times, the machine name and the channel names.',
  });
}

export function temporaryDatabaseFailed(cause: unknown): OperatingError {
  const reason = cause instanceof Error ? cause.message.split('\n')[0] : String(cause);
  return new OperatingError(`The temporary database for sorting failed (${reason}).`, {
    code: 'temporary-database-failed',
    where: tmpdir(),
    remedy: 'Free space there, or set TMPDIR to a folder on a larger disk.',
    isRetriable: true,
    cause,
  });
}

export function outputUnwritable(path: string, cause: unknown): OperatingError {
  const reason = (cause as NodeJS.ErrnoException).code ?? 'unknown';
  return new OperatingError(`The output cannot be written (${reason}).`, {
    code: 'output-unwritable',
    where: path === '-' ? 'standard output' : path,
    remedy: 'Check that its folder exists, that you may write there and that the disk is not full.',
    cause,
  });
}

function listed(names: readonly string[], most = 12): string {
  const rest = names.length - most;
  return rest > 0 ? `${names.slice(0, most).join(', ')} and ${rest} more` : names.join(', ');
}
