/** Where the parts of an embedded server lie, and who owns them. */

import { createHash } from 'node:crypto';
import { chmodSync, existsSync, mkdirSync, readFileSync, realpathSync, statSync, writeFileSync } from 'node:fs';
import { join, resolve } from 'node:path';
import { type Logger, OperatingError } from '@warmbrick/runtime';
import { canReach, chooseServerUser, type ServerUser } from './server-user.js';

export interface ServerFolders {
  /** The folder the user named; holds the lock. */
  readonly dataFolder: string;
  /** The folder that programs and database lie in: the data folder, unless the server's user cannot enter it. */
  readonly base: string;
  readonly user: ServerUser | null;
}

/** Where root's database goes when it may not lie in the data folder. Source: FHS 3.0, 5.8. */
const defaultFallbackRoot = '/var/lib/warmbrick';
const noteName = 'moved-to';

/** Makes the data folder and gives its real path. Errors: OperatingError `data-folder-not-writable`. */
export function makeDataFolder(folder: string): string {
  try {
    const made = mkdirSync(resolve(folder), { recursive: true });
    // Whatever the umask: root's server runs as another user, who has to pass through.
    if (made !== undefined && process.getuid?.() === 0) chmodSync(folder, 0o755);
    return realpathSync(folder);
  } catch (cause) {
    throw new OperatingError(`The data folder ${folder} cannot be made.`, {
      code: 'data-folder-not-writable',
      remedy: 'Name a folder that you can write to with WARMBRICK_DATA_DIR.',
      cause,
    });
  }
}

/**
 * Decides where the server's files lie and which user owns them.
 *
 * A folder under root's home is closed to every other user. Then the database lies under `fallbackRoot`, and a note in
 * the data folder says where; the note holds from then on.
 */
export function arrangeFolders(dataFolder: string, logger: Logger, fallbackRoot = defaultFallbackRoot): ServerFolders {
  const note = join(dataFolder, noteName);
  if (existsSync(note)) {
    const base = readFileSync(note, 'utf8').trim();
    if (!existsSync(base)) throw lostBase(note, base);
    return { dataFolder, base, user: chooseServerUser(base) };
  }
  const user = chooseServerUser(dataFolder);
  if (user === null || canReach(join(dataFolder, 'x'), user)) return { dataFolder, base: dataFolder, user };
  const base = join(fallbackRoot, `for-${createHash('sha256').update(dataFolder).digest('hex').slice(0, 16)}`);
  mkdirSync(base, { recursive: true });
  for (const folder of [fallbackRoot, base]) chmodSync(folder, 0o755);
  writeFileSync(note, `${base}\n`);
  logger.warn({ dataFolder, base }, 'the database user may not enter the data folder; the database lies elsewhere');
  return { dataFolder, base, user };
}

/** The user that owns an existing database; a database stays with the user it was made for. */
export function clusterUser(cluster: string, chosen: ServerUser | null): ServerUser | null {
  if (!existsSync(cluster)) return chosen;
  const { uid, gid } = statSync(cluster);
  const own = process.getuid?.();
  if (own === undefined || own === uid) return null;
  if (own === 0) return { uid, gid };
  throw new OperatingError(`The database in ${cluster} belongs to another user (uid ${uid}).`, {
    code: 'data-folder-not-writable',
    remedy: 'Start as that user, or name another folder with WARMBRICK_DATA_DIR.',
  });
}

function lostBase(note: string, base: string): OperatingError {
  return new OperatingError(`${note} says that the database lies in ${base}, but there is no such folder.`, {
    code: 'data-folder-not-writable',
    remedy: 'Bring the folder back, or remove the note to begin with an empty database.',
  });
}
