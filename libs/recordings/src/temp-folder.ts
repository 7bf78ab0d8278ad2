/** A folder of our own under the system's temporary folder, gone when the work is done or the process ends. */

import { rmSync } from 'node:fs';
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

export interface TempFolder {
  readonly path: string;
  /** Removes it with all it holds. */
  remove(): Promise<void>;
}

/** Creates a fresh folder that also goes when the process exits. */
export async function createTempFolder(): Promise<TempFolder> {
  const path = await mkdtemp(join(tmpdir(), 'warmbrick-recordings-'));
  const removeNow = (): void => rmSync(path, { recursive: true, force: true });
  process.once('exit', removeNow);
  return {
    path,
    async remove() {
      process.off('exit', removeNow);
      await rm(path, { recursive: true, force: true });
    },
  };
}

/** Runs `work` with a fresh folder and removes the folder afterwards, also when `work` fails. */
export async function withTempFolder<Result>(work: (folder: string) => Promise<Result>): Promise<Result> {
  const folder = await createTempFolder();
  try {
    return await work(folder.path);
  } finally {
    await folder.remove();
  }
}
