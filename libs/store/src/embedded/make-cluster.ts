/** Makes an empty database directory. */

import { execFile } from 'node:child_process';
import { chownSync, existsSync, mkdirSync, renameSync, rmSync } from 'node:fs';
import { promisify } from 'node:util';
import { OperatingError } from '@warmbrick/runtime';
import type { ServerPrograms } from './server-programs.js';
import type { ServerUser } from './server-user.js';

/** Longest time initdb may take, in ms; it takes half a second on a laptop. Source: engineering judgement. */
const initdbTimeoutMs = 120_000;

/** Environment of the server's programs: nothing of ours, and no locale that the system may not have. */
export const serverEnvironment = { LC_ALL: 'C', TZ: 'UTC', PATH: '/usr/bin:/bin' };

/** Superuser of the embedded database; only reachable through the private socket folder. */
export const databaseUser = 'warmbrick';

/**
 * Runs initdb unless the directory is there: UTF-8, C locale, no password, since only the socket's folder guards it.
 *
 * The directory is made beside its place and moved there when whole.
 * Errors: OperatingError `initdb-failed` with what initdb said.
 */
export async function makeCluster(cluster: string, programs: ServerPrograms, user: ServerUser | null): Promise<void> {
  if (existsSync(cluster)) return;
  const draft = `${cluster}.draft`;
  rmSync(draft, { recursive: true, force: true });
  mkdirSync(draft, { mode: 0o700 });
  if (user !== null) chownSync(draft, user.uid, user.gid);
  const args = ['-D', draft, '-U', databaseUser, '-E', 'UTF8', '--locale=C', '--auth=trust', '--no-instructions'];
  try {
    const options = { ...user, cwd: '/', env: serverEnvironment, timeout: initdbTimeoutMs };
    await promisify(execFile)(programs.initdb, args, options);
  } catch (cause) {
    const said = String((cause as { stderr?: string }).stderr ?? '').trim() || String(cause);
    throw new OperatingError(`The database could not be made: ${said}`, {
      code: 'initdb-failed',
      where: cluster,
      remedy: 'Check the free space, and that the user running it has an entry in /etc/passwd.',
      cause,
    });
  }
  renameSync(draft, cluster);
}
