/** One run of the database server as a child process. */

import { type ChildProcess, spawn } from 'node:child_process';
import { closeSync, fchownSync, openSync, readFileSync, renameSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { OperatingError } from '@warmbrick/runtime';
import { serverEnvironment } from './make-cluster.js';
import type { ServerUser } from './server-user.js';

export interface ServerLaunch {
  readonly postgres: string;
  readonly cluster: string;
  readonly socketFolder: string;
  readonly logFile: string;
  readonly user: ServerUser | null;
}

/** Longest wait for a server that recovers from its log, in ms. Source: engineering judgement. */
const readyTimeoutMs = 300_000;
const readyPollMs = 10;

/** A log above this many bytes is set aside at the next start; one older log is kept. Source: engineering judgement. */
const maxLogBytes = 4_000_000;

/**
 * Settings for a laptop: little memory, few processes, no surprises from compiling queries.
 * `fsync` and `synchronous_commit` stay on: what was acknowledged survives a power cut.
 */
const settings = {
  listen_addresses: '',
  unix_socket_permissions: '0700',
  max_connections: '50',
  shared_buffers: '128MB',
  max_wal_size: '512MB',
  fsync: 'on',
  synchronous_commit: 'on',
  full_page_writes: 'on',
  wal_compression: 'on',
  max_wal_senders: '0',
  wal_level: 'minimal',
  io_method: 'sync',
  jit: 'off',
  max_parallel_workers_per_gather: '0',
  timezone: 'UTC',
  log_timezone: 'UTC',
  // Refused statements are told to us; a log of them would grow without bound.
  log_min_messages: 'log',
  log_min_error_statement: 'panic',
  log_checkpoints: 'off',
};

/**
 * Starts a server and waits until it takes connections.
 *
 * It leads a process group of its own, so that Ctrl-C in a terminal reaches us alone and we decide the order of leaving.
 * Errors: OperatingError `server-start-failed` with the end of the server's log.
 */
export async function launchServer(launch: ServerLaunch, abort: AbortSignal): Promise<ChildProcess> {
  setAsideLongLog(launch.logFile);
  const log = openSync(launch.logFile, 'a');
  // An ordinary user who starts the server later has to write to it too.
  if (launch.user !== null) fchownSync(log, launch.user.uid, launch.user.gid);
  const logStart = statSync(launch.logFile).size;
  const flags = Object.entries(settings).flatMap(([name, value]) => ['-c', `${name}=${value}`]);
  const child = spawn(launch.postgres, ['-D', launch.cluster, '-k', launch.socketFolder, ...flags], {
    ...launch.user,
    cwd: launch.cluster,
    env: serverEnvironment,
    detached: true,
    stdio: ['ignore', log, log],
  });
  closeSync(log);
  const failure = new Promise<never>((_, reject) => {
    child.once('error', reject);
    child.once('exit', (code, signal) => reject(new Error(`ended with ${signal ?? `code ${code}`}`)));
  });
  try {
    await Promise.race([failure, waitUntilReady(launch.cluster, child, abort)]);
    return child;
  } catch (cause) {
    await endServer(child);
    throw startFailed(launch, logStart, cause);
  }
}

/** Time given to each way of shutting down, in ms. Source: engineering judgement. */
const fastPatienceMs = 30_000;
const quitPatienceMs = 10_000;

/** Stops a server: a fast shutdown, which writes everything and breaks off open transactions; then harder ways. */
export async function endServer(child: ChildProcess): Promise<void> {
  if (isOver(child)) return;
  const ended = new Promise<true>((settle) => child.once('exit', () => settle(true)));
  for (const [signal, patienceMs] of [
    ['SIGINT', fastPatienceMs],
    ['SIGQUIT', quitPatienceMs],
    ['SIGKILL', quitPatienceMs],
  ] as const) {
    child.kill(signal);
    const timer = new AbortController();
    const late = sleep(patienceMs, false, { signal: timer.signal }).catch(() => false);
    const isDone = (await Promise.race([ended, late])) || isOver(child);
    timer.abort();
    if (isDone) return;
  }
}

/** Whether the process has ended, or never began. */
function isOver(child: ChildProcess): boolean {
  return child.exitCode !== null || child.signalCode !== null || child.pid === undefined;
}

async function waitUntilReady(cluster: string, child: ChildProcess, abort: AbortSignal): Promise<void> {
  const until = Date.now() + readyTimeoutMs;
  while (!isReady(cluster, child.pid)) {
    if (Date.now() > until) throw new Error(`not ready after ${readyTimeoutMs / 1000} s`);
    // How it ended is told by whoever waits for that; polling on would keep this process alive.
    if (isOver(child)) throw new Error('ended before it was ready');
    await sleep(readyPollMs, undefined, { signal: abort });
  }
}

/** The first line of the server's pid file is its process, the eighth its status. */
function isReady(cluster: string, pid: number | undefined): boolean {
  try {
    const lines = readFileSync(join(cluster, 'postmaster.pid'), 'utf8').split('\n');
    return Number(lines[0]) === pid && lines[7]?.trim() === 'ready';
  } catch {
    return false;
  }
}

function setAsideLongLog(path: string): void {
  try {
    if (statSync(path).size > maxLogBytes) renameSync(path, `${path}.1`);
  } catch {
    // There is no log yet.
  }
}

function startFailed(launch: ServerLaunch, logStart: number, cause: unknown): OperatingError {
  const said = readFileSync(launch.logFile)
    .subarray(logStart)
    .toString('utf8')
    .trim()
    .split('\n')
    .slice(-5)
    .join(' | ');
  return new OperatingError(`The database server did not start: ${said || String(cause)}`, {
    code: 'server-start-failed',
    isRetriable: true,
    where: launch.cluster,
    remedy: `Its log is ${launch.logFile}.`,
    cause,
  });
}
