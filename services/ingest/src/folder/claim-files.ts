/** Which process works which file: by renaming, which the file system does once only. */

import { randomUUID } from 'node:crypto';
import { mkdir, readdir, rm, rmdir, stat, utimes, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { moveFile, renameFile } from './move-file.js';

export interface FolderPaths {
  readonly inbox: string;
  readonly working: string;
  readonly done: string;
  readonly failed: string;
}

export interface FileClaims {
  /** Our folder under `working`; names that begin with a dot in it are ours alone. */
  readonly own: string;
  /** Takes a file of the inbox for ourselves: its new path, or null when somebody else was faster. */
  claim(name: string): Promise<string | null>;
  /** Shows that we live. */
  showLife(): Promise<void>;
  /** Puts files of processes that show no life back into the inbox, given a time in ms that only rises. */
  adopt(nowMs: number): Promise<void>;
  /** Puts back what we hold, except where a file of its name has come meanwhile: then the next time. */
  putBack(): Promise<void>;
  /** The same, and goes; what is left others put back. */
  leave(): Promise<void>;
}

/** Shows by its time that the owner of the folder lives. */
const signName = '.alive';

/** Makes the folders of a watched folder, where they are missing. */
export async function makeFolders(folder: string): Promise<FolderPaths> {
  const paths = {
    inbox: join(folder, 'inbox'),
    working: join(folder, 'working'),
    done: join(folder, 'done'),
    failed: join(folder, 'failed'),
  };
  for (const path of Object.values(paths)) await mkdir(path, { recursive: true });
  return paths;
}

/**
 * Joins the processes that share a watched folder.
 *
 * Each works in a folder of its own under `working` and touches its sign of life. One that does not change its sign for
 * `abandonedMs` of our own clock is taken for dead; whatever clock the disk goes by does not matter.
 */
export async function joinFolder(paths: FolderPaths, abandonedMs: number): Promise<FileClaims> {
  const ownName = randomUUID();
  const own = join(paths.working, ownName);
  const sign = join(own, signName);
  let turns = 0;
  const seen = new Map<string, { signMs: number; sinceMs: number }>();

  const showLife = async () => {
    const now = new Date();
    await mkdir(own, { recursive: true });
    await utimes(sign, now, now).catch(() => writeFile(sign, ''));
  };
  /** Each file lies in a folder of its own, so that a second one of the same name never replaces it. */
  const emptyInto = async (folder: string) => {
    for (const turn of await namesIn(folder)) {
      if (turn.startsWith('.')) continue;
      for (const name of await namesIn(join(folder, turn))) {
        await moveFile(join(folder, turn, name), join(paths.inbox, name));
      }
      await rmdir(join(folder, turn)).catch(() => {});
    }
  };
  /** Nothing is removed but our own marks, and the folder only when it is empty: its owner may live after all. */
  const removeFolder = async (folder: string) => {
    const names = await namesIn(folder);
    if (names.some((name) => !name.startsWith('.'))) return;
    for (const name of names) await rm(join(folder, name), { force: true });
    await rmdir(folder).catch(() => {});
  };
  await showLife();

  return {
    own,
    showLife,
    async claim(name) {
      const turn = join(own, String(turns++));
      await mkdir(turn, { recursive: true });
      if (await renameFile(join(paths.inbox, name), join(turn, name))) return join(turn, name);
      await rmdir(turn).catch(() => {});
      return null;
    },
    async adopt(nowMs) {
      const others = (await namesIn(paths.working)).filter((name) => name !== ownName);
      for (const name of seen.keys()) if (!others.includes(name)) seen.delete(name);
      for (const name of others) {
        const folder = join(paths.working, name);
        const signMs = (await stat(join(folder, signName)).catch(() => null))?.mtimeMs ?? 0;
        const before = seen.get(name);
        if (before === undefined || before.signMs !== signMs) {
          seen.set(name, { signMs, sinceMs: nowMs });
        } else if (nowMs - before.sinceMs >= abandonedMs) {
          await emptyInto(folder);
          await removeFolder(folder);
        }
      }
    },
    putBack: () => emptyInto(own),
    async leave() {
      await emptyInto(own);
      await removeFolder(own);
    },
  };
}

async function namesIn(folder: string): Promise<string[]> {
  try {
    return await readdir(folder);
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException;
    if (code === 'ENOENT' || code === 'ENOTDIR') return [];
    throw error;
  }
}
