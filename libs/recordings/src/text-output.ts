/** Writes text to a file or to standard output at once, so that nothing piles up when the reader is slow. */

import { closeSync, openSync, writeSync } from 'node:fs';
import { outputUnwritable } from './recording-errors.js';

export interface TextOutput {
  write(text: string): void;
  close(): void;
}

/** Text held back before it is written, in characters. */
const heldCharacters = 65_536;
/** Pause before standard output is tried again when it takes nothing, ms. */
const retryMs = 5;
const standardOutput = 1;

/** Opens an output; "-" is standard output. Errors: `output-unwritable`. */
export function openTextOutput(path: string): TextOutput {
  const handle = guarded(path, () => (path === '-' ? standardOutput : openSync(path, 'w')));
  let held = '';
  const flush = (): void => {
    const bytes = Buffer.from(held, 'utf8');
    held = '';
    guarded(path, () => writeAll(handle, bytes));
  };
  return {
    write(text) {
      held += text;
      if (held.length >= heldCharacters) flush();
    },
    close() {
      flush();
      if (handle !== standardOutput) closeSync(handle);
    },
  };
}

/** Writes bytes to a file, or to standard output, in full. */
export function writeAll(handle: number, bytes: Uint8Array): void {
  let written = 0;
  while (written < bytes.length) {
    try {
      written += writeSync(handle, bytes, written);
    } catch (error) {
      if ((error as NodeJS.ErrnoException).code !== 'EAGAIN') throw error;
      Atomics.wait(new Int32Array(new SharedArrayBuffer(4)), 0, 0, retryMs);
    }
  }
}

function guarded<Result>(path: string, work: () => Result): Result {
  try {
    return work();
  } catch (error) {
    throw outputUnwritable(path, error);
  }
}
