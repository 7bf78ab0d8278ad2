/** Moves a file without ever writing over another. */

import { access, link, rename, unlink } from 'node:fs/promises';
import { join, parse } from 'node:path';

export type Moved = 'moved' | 'absent' | 'taken';

/** Names tried before giving up. */
const mostNames = 10_000;

/**
 * Moves a file to a name that is free: `absent` when it is not there, `taken` when the name is.
 *
 * It is linked first and unlinked then; a process that dies in between leaves it in both places.
 */
export async function moveFile(from: string, to: string): Promise<Moved> {
  try {
    await link(from, to);
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException;
    if (code === 'ENOENT') return 'absent';
    if (code === 'EEXIST') return 'taken';
    // A file system without links: the look before the move is the best there is.
    if (code !== 'EPERM' && code !== 'ENOTSUP' && code !== 'EOPNOTSUPP' && code !== 'ENOSYS') throw error;
    if (await exists(to)) return 'taken';
    return (await renameFile(from, to)) ? 'moved' : 'absent';
  }
  // Gone already when two did this at once.
  await unlink(from).catch(() => {});
  return 'moved';
}

/** Moves a file into a folder; `a.csv` becomes `a~2.csv` when there is one. The name it got, or null when it is not there. */
export async function moveInto(from: string, folder: string, name: string): Promise<string | null> {
  const { name: stem, ext } = parse(name);
  for (let turn = 1; turn <= mostNames; turn++) {
    const free = turn === 1 ? name : `${stem}~${turn}${ext}`;
    const moved = await moveFile(from, join(folder, free));
    if (moved !== 'taken') return moved === 'moved' ? free : null;
  }
  throw new Error(`${folder} holds too many files of one name`);
}

/** Whether the file was there to be renamed; whatever has the other name is replaced. */
export async function renameFile(from: string, to: string): Promise<boolean> {
  try {
    await rename(from, to);
    return true;
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'ENOENT') return false;
    throw error;
  }
}

async function exists(path: string): Promise<boolean> {
  return access(path).then(
    () => true,
    () => false,
  );
}
