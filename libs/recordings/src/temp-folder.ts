/** A folder of our own under the system's temporary folder, gone when the work is done or the process ends. */

import { rmSync } from 'node:fs';
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

/** Runs `work` with a fresh folder and removes the folder afterwards, also when `work` fails or the process exits. */
export async function withTempFolder<Result>(work: (folder: string) => Promise<Result>): Promise<Result> {
  const folder = await mkdtemp(join(tmpdir(), 'warmbrick-recordings-'));
  const removeNow = (): void => rmSync(folder, { recursive: true, force: true });
  process.once('exit', removeNow);
  try {
    return await work(folder);
  } finally {
    process.off('exit', removeNow);
    await rm(folder, { recursive: true, force: true });
  }
}
