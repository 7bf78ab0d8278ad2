/** Where a command writes to. */

import { writeSync } from 'node:fs';

export interface Console {
  /** Results. */
  readonly out: (text: string) => void;
  /** Progress, warnings and errors. */
  readonly err: (text: string) => void;
  /** Whether somebody watches the progress. */
  readonly isWatched: boolean;
}

/** The console of a process. Results are written at once, so that a pipe gets everything before the process ends. */
export function consoleOf(process: NodeJS.Process): Console {
  return {
    out: (text) => writeAll(1, text),
    err: (text) => writeAll(2, text),
    isWatched: process.stderr.isTTY === true,
  };
}

/** A pipe may be full for a moment; then the same bytes are tried again. */
function writeAll(fd: number, text: string): void {
  const bytes = Buffer.from(text);
  let at = 0;
  while (at < bytes.length) {
    try {
      at += writeSync(fd, bytes, at);
    } catch (error) {
      if ((error as NodeJS.ErrnoException).code !== 'EAGAIN') throw error;
    }
  }
}
