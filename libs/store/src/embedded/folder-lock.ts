/** One owner for a data folder: a lock file that names a process and when it was started. */

import { linkSync, readFileSync, renameSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { OperatingError } from '@warmbrick/runtime';
import { processIdentity } from './process-identity.js';

interface LockRecord {
  readonly pid: number;
  readonly identity: string;
}

export interface FolderLock {
  release(): void;
}

/** Rounds of taking over a stale lock from others who try the same. Source: engineering judgement. */
const maxRounds = 20;

/** Locks this process holds; the file alone cannot tell two holders within one process apart. */
const heldHere = new Set<string>();

/**
 * Locks a folder for this process.
 *
 * A lock whose process is gone, after a kill or a power cut, is taken over. Processes on another host or in another
 * container are not seen; the database's own lock is the second line there.
 * Errors: OperatingError `data-folder-in-use`, naming the process that holds it.
 */
export function lockFolder(folder: string): FolderLock {
  const path = join(folder, 'lock');
  const own = JSON.stringify({ pid: process.pid, identity: processIdentity(process.pid) ?? 'unknown' });
  const draft = `${path}.${process.pid}`;
  if (heldHere.has(path)) throw inUse(folder, process.pid);
  writeFileSync(draft, own);
  try {
    for (let round = 0; round < maxRounds; round++) {
      if (tryLink(draft, path)) return hold(path, own);
      const found = readText(path);
      if (found === null) continue;
      const owner = liveOwner(found);
      if (owner !== null) throw inUse(folder, owner);
      dropStale(path, found);
    }
  } finally {
    rmSync(draft, { force: true });
  }
  throw new OperatingError(`The lock file of ${folder} changes all the time.`, {
    code: 'data-folder-in-use',
    remedy: 'Start one program at a time on a data folder.',
  });
}

function hold(path: string, own: string): FolderLock {
  heldHere.add(path);
  return {
    release() {
      if (!heldHere.delete(path)) return;
      if (readText(path) === own) rmSync(path, { force: true });
    },
  };
}

/** Linking fails when the name exists, and the file appears with its whole content at once. */
function tryLink(draft: string, path: string): boolean {
  try {
    linkSync(draft, path);
    return true;
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'EEXIST') return false;
    throw error;
  }
}

function readText(path: string): string | null {
  try {
    return readFileSync(path, 'utf8');
  } catch {
    return null;
  }
}

function liveOwner(text: string): number | null {
  try {
    const record = JSON.parse(text) as LockRecord;
    // Our own number in a file that we do not hold: an earlier run that had it, as in a container where all are pid 1.
    if (record.pid === process.pid) return null;
    return processIdentity(record.pid) === record.identity ? record.pid : null;
  } catch {
    // A file cut short by a power loss names nobody.
    return null;
  }
}

/** Takes the stale file away by renaming; if somebody's fresh lock was caught instead, puts it back. */
function dropStale(path: string, stale: string): void {
  const aside = `${path}.stale.${process.pid}`;
  try {
    renameSync(path, aside);
  } catch {
    return;
  }
  if (readText(aside) !== stale) tryLink(aside, path);
  rmSync(aside, { force: true });
}

function inUse(folder: string, pid: number): OperatingError {
  return new OperatingError(`The data folder ${folder} is in use by process ${pid}.`, {
    code: 'data-folder-in-use',
    remedy: `Stop process ${pid}, or name another folder with WARMBRICK_DATA_DIR.`,
  });
}
