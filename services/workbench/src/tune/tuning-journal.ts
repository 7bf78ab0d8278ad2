/** The journal of a search: what was judged already, so that a search that was stopped goes on where it stood. */

import { appendFileSync, existsSync, readFileSync } from 'node:fs';
import { OperatingError } from '@warmbrick/runtime';
import type { MachineOutcome } from '@warmbrick/tuning';

export interface TuningJournal {
  /** Sets found in it. */
  readonly known: number;
  find(key: string): readonly MachineOutcome[] | undefined;
  add(key: string, outcomes: readonly MachineOutcome[]): void;
}

/**
 * Opens a journal, or begins one. A last line that was cut off is passed over: its set is judged again.
 *
 * Errors: OperatingError `bad-journal` for the journal of another search, or a file that is none.
 */
export function openJournal(path: string | undefined, fingerprint: string): TuningJournal {
  const known = new Map<string, readonly MachineOutcome[]>();
  if (path !== undefined) {
    if (existsSync(path)) readInto(known, path, fingerprint);
    else write(path, { search: fingerprint });
  }
  return {
    known: known.size,
    find: (key) => known.get(key),
    add(key, outcomes) {
      known.set(key, outcomes);
      if (path !== undefined) write(path, { key, outcomes });
    },
  };
}

function readInto(known: Map<string, readonly MachineOutcome[]>, path: string, fingerprint: string): void {
  const lines = readFileSync(path, 'utf8').split('\n');
  const head = parsed(lines[0] ?? '');
  if (head?.search !== fingerprint) {
    const isOther = typeof head?.search === 'string';
    throw new OperatingError(isOther ? 'the journal is of another search.' : 'the file is no journal.', {
      code: 'bad-journal',
      where: path,
      remedy: 'Name another file with --journal, or give the same recordings, truth, thresholds and base as before.',
    });
  }
  for (const line of lines.slice(1)) {
    const entry = parsed(line);
    if (typeof entry?.key === 'string') known.set(entry.key, entry.outcomes as MachineOutcome[]);
  }
  // A line that was cut off is ended, so that the next one stands by itself.
  if (lines.at(-1) !== '') appendFileSync(path, '\n');
}

function parsed(line: string): Record<string, unknown> | null {
  try {
    return JSON.parse(line) as Record<string, unknown> | null;
  } catch {
    return null;
  }
}

function write(path: string, entry: unknown): void {
  try {
    appendFileSync(path, `${JSON.stringify(entry)}\n`);
  } catch (cause) {
    throw new OperatingError(`cannot be written: ${(cause as Error).message}.`, {
      code: 'output-unwritable',
      where: path,
      remedy: 'Check that the folder exists and that you may write to it.',
      cause,
    });
  }
}
