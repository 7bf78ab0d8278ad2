/** A server that outlived the program that started it. */

import { execFileSync } from 'node:child_process';
import { readdirSync, readFileSync, readlinkSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { type Logger, OperatingError } from '@warmbrick/runtime';
import { processIdentity } from './process-identity.js';

/** How long each way of stopping may take, in ms. Source: engineering judgement. */
const patienceMs = 20_000;
const pollMs = 20;

/**
 * Stops a server that still runs on a data directory whose owner is gone, and clears away its pid file.
 *
 * The caller holds the lock of the data folder, so no live owner exists. A fast shutdown comes first; a server that
 * does not heed it is told to quit and recovers from its log at the next start.
 * Errors: OperatingError `orphan-server` when it cannot be stopped.
 */
export async function stopOrphanServer(cluster: string, logger: Logger): Promise<void> {
  const pid = serverPid(cluster);
  if (pid !== null && isServerOf(pid, cluster)) {
    logger.warn({ pid }, 'stopping a database server left behind by an earlier run');
    if (!(await stopProcess(pid, 'SIGINT')) && !(await stopProcess(pid, 'SIGQUIT'))) throw cannotStop(pid);
  }
  // Children of a killed server leave by themselves once they notice; a new server must not meet them.
  const until = Date.now() + patienceMs;
  for (let left = processesIn(cluster); left.length > 0; left = processesIn(cluster)) {
    if (Date.now() > until) throw cannotStop(left[0] as number);
    await sleep(pollMs);
  }
  // Left in place, the file would stop a new server as soon as any process of this user has the number in it.
  rmSync(join(cluster, 'postmaster.pid'), { force: true });
}

/** Process number in the server's own pid file; null when there is none. */
function serverPid(cluster: string): number | null {
  try {
    const pid = Number(readFileSync(join(cluster, 'postmaster.pid'), 'utf8').split('\n')[0]);
    return Number.isInteger(pid) && pid > 1 ? pid : null;
  } catch {
    return null;
  }
}

/** A number may have gone to another process since; only one that works in, or was started with, the directory is ours. */
function isServerOf(pid: number, cluster: string): boolean {
  if (processIdentity(pid) === null) return false;
  if (process.platform === 'linux') return processesIn(cluster).includes(pid);
  try {
    return execFileSync('ps', ['-o', 'command=', '-p', String(pid)], { encoding: 'utf8' }).includes(cluster);
  } catch {
    return false;
  }
}

/** All processes of a server work in its data directory. Empty where the system does not tell. */
function processesIn(cluster: string): number[] {
  if (process.platform !== 'linux') return [];
  const found: number[] = [];
  for (const name of readdirSync('/proc')) {
    const pid = Number(name);
    if (!Number.isInteger(pid)) continue;
    try {
      if (readlinkSync(`/proc/${pid}/cwd`) === cluster && processIdentity(pid) !== null) found.push(pid);
    } catch {
      // Gone meanwhile, or not ours to see.
    }
  }
  return found;
}

async function stopProcess(pid: number, signal: NodeJS.Signals): Promise<boolean> {
  const identity = processIdentity(pid);
  if (identity === null) return true;
  try {
    process.kill(pid, signal);
  } catch {
    return processIdentity(pid) !== identity;
  }
  const until = Date.now() + patienceMs;
  while (Date.now() < until) {
    if (processIdentity(pid) !== identity) return true;
    await sleep(pollMs);
  }
  return false;
}

function cannotStop(pid: number): OperatingError {
  return new OperatingError(`Database server process ${pid} of an earlier run does not stop.`, {
    code: 'orphan-server',
    remedy: `End process ${pid} by hand and start again.`,
  });
}
