/** The user the database server runs as. PostgreSQL refuses to run as root. */

import { readFileSync, statSync } from 'node:fs';
import { dirname } from 'node:path';
import { OperatingError } from '@warmbrick/runtime';

export interface ServerUser {
  readonly uid: number;
  readonly gid: number;
}

/** Users tried when root starts the server, best first. initdb needs one with an entry in the user database. */
const candidates = ['warmbrick', 'nobody'];

/**
 * The user to run the server as: null for the current one; when started as root, the folder's owner, else a user named
 * `warmbrick`, else `nobody`.
 *
 * Errors: OperatingError `no-server-user` when root finds none.
 */
export function chooseServerUser(folder: string): ServerUser | null {
  if (process.getuid?.() !== 0) return null;
  const owner = statSync(folder);
  if (owner.uid !== 0) return { uid: owner.uid, gid: owner.gid };
  for (const name of candidates) {
    const user = findUser(name);
    if (user !== null) return user;
  }
  throw new OperatingError('Started as root, and there is no ordinary user to run the database as.', {
    code: 'no-server-user',
    remedy: 'Add a system user named "warmbrick", or start as an ordinary user.',
  });
}

function findUser(name: string): ServerUser | null {
  const line = readFileSync('/etc/passwd', 'utf8')
    .split('\n')
    .find((entry) => entry.startsWith(`${name}:`));
  const fields = line?.split(':');
  if (fields === undefined) return null;
  // Some systems write nobody as -2, which the kernel takes as an unsigned number.
  const uid = Number(fields[2]) >>> 0;
  return uid === 0 ? null : { uid, gid: Number(fields[3]) >>> 0 };
}

/** Whether a user can enter a folder that belongs to it, going by the permission bits of the folders above. */
export function canReach(folder: string, user: ServerUser): boolean {
  for (let parent = dirname(folder); ; parent = dirname(parent)) {
    const { mode, uid, gid } = statSync(parent);
    const bit = uid === user.uid ? 0o100 : gid === user.gid ? 0o010 : 0o001;
    if ((mode & bit) === 0) return false;
    if (parent === dirname(parent)) return true;
  }
}
