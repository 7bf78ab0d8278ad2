/** A short, private folder for the server's Unix socket. */

import { createHash } from 'node:crypto';
import { chmodSync, chownSync, lstatSync, mkdirSync, rmdirSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { OperatingError } from '@warmbrick/runtime';
import type { ServerUser } from './server-user.js';

/** Longest path of a Unix socket in bytes. Source: sun_path of unix(7) is 108 with the closing zero; macOS has 104. */
const maxSocketPathBytes = process.platform === 'darwin' ? 103 : 107;
const socketName = '.s.PGSQL.5432';

/**
 * Makes the folder, named for the data folder, that only the server's user can enter.
 *
 * Errors: OperatingError `socket-folder-taken` when somebody else made a folder of that name.
 */
export function prepareSocketFolder(dataFolder: string, user: ServerUser | null): string {
  const name = `warmbrick-${createHash('sha256').update(dataFolder).digest('hex').slice(0, 16)}`;
  const wished = join(tmpdir(), name);
  const folder = Buffer.byteLength(join(wished, socketName)) <= maxSocketPathBytes ? wished : join('/tmp', name);
  const uid = user?.uid ?? process.getuid?.() ?? 0;
  mkdirSync(folder, { recursive: true, mode: 0o700 });
  const made = lstatSync(folder);
  const isOurs = made.isDirectory() && (made.uid === uid || made.uid === process.getuid?.());
  if (!isOurs) {
    throw new OperatingError(`${folder} belongs to somebody else.`, {
      code: 'socket-folder-taken',
      remedy: 'Remove it, or set TMPDIR to a folder of your own.',
    });
  }
  chmodSync(folder, 0o700);
  if (user !== null) chownSync(folder, user.uid, user.gid);
  return folder;
}

/** Removes the folder and what a killed server left in it; anything else in it stays, and the folder with it. */
export function removeSocketFolder(folder: string): void {
  for (const name of [socketName, `${socketName}.lock`]) rmSync(join(folder, name), { force: true });
  try {
    rmdirSync(folder);
  } catch {
    // Not empty, or gone already.
  }
}
