/** The database that comes along: a real PostgreSQL server of our own, started, watched and stopped with us. */

import type { ChildProcess } from 'node:child_process';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { createLogger, type Logger, OperatingError } from '@warmbrick/runtime';
import { defaultDataFolder } from './data-folder.js';
import { type FolderLock, lockFolder } from './folder-lock.js';
import { databaseUser, makeCluster } from './make-cluster.js';
import { stopOrphanServer } from './orphan-server.js';
import { arrangeFolders, clusterUser, makeDataFolder } from './server-folders.js';
import { endServer, launchServer, type ServerLaunch } from './server-process.js';
import { installServerPrograms } from './server-programs.js';
import { prepareSocketFolder, removeSocketFolder } from './socket-folder.js';

export interface EmbeddedPostgresOptions {
  /** Folder that keeps everything; made when absent. Default: see `defaultDataFolder`. */
  readonly dataDir?: string;
  readonly logger?: Logger;
  /** Where the database of a root user goes when the server's user cannot enter the data folder. */
  readonly fallbackRoot?: string;
  /** Called once when the server keeps ending and is not started any more. */
  readonly onGiveUp?: (error: OperatingError) => void;
}

export interface EmbeddedPostgres {
  /** For `openStore` and any PostgreSQL client on this host. */
  readonly connectionString: string;
  /** Folder of the server's Unix socket; only the server's user and root can enter it. */
  readonly socketFolder: string;
  /** Folder that the database lies in. */
  readonly cluster: string;
  /** Process number of the server now; null while it is being restarted. */
  pid(): number | null;
  /** Stops the server and frees the data folder; done when both are. May be called again. */
  stop(): Promise<void>;
}

/** Restarts within the window before giving up; a server that keeps ending has a cause that a restart does not mend. */
const maxRestarts = 5;
const restartWindowMs = 60_000;
const firstRestartDelayMs = 50;

/**
 * Starts the embedded server on a data folder: copies the programs and makes the database at the first start, stops a
 * server that an earlier run left behind, and restarts the server if it is killed. Resolves when it takes connections.
 *
 * Installs no signal handlers: the service calls `stop`.
 * Errors: OperatingError `data-folder-in-use`, `data-folder-not-writable`, `no-server-programs`, `initdb-failed`,
 * `server-start-failed`, `orphan-server`, `no-server-user`, `socket-folder-taken`.
 */
export async function startEmbeddedPostgres(options: EmbeddedPostgresOptions = {}): Promise<EmbeddedPostgres> {
  const logger = options.logger ?? createLogger({ name: 'store', level: 'warn' });
  const dataFolder = makeDataFolder(options.dataDir ?? defaultDataFolder());
  const lock = inFolder(dataFolder, () => lockFolder(dataFolder));
  try {
    const launch = await prepareLaunch(dataFolder, logger, options.fallbackRoot);
    const supervisor = new Supervisor({ launch, lock, logger, onGiveUp: options.onGiveUp });
    await supervisor.start();
    const host = encodeURIComponent(launch.socketFolder);
    return {
      connectionString: `postgresql://${databaseUser}@/postgres?host=${host}&port=5432`,
      socketFolder: launch.socketFolder,
      cluster: launch.cluster,
      pid: () => supervisor.pid(),
      stop: () => supervisor.stop(),
    };
  } catch (error) {
    lock.release();
    throw toFolderError(dataFolder, error);
  }
}

function inFolder<T>(folder: string, action: () => T): T {
  try {
    return action();
  } catch (error) {
    throw toFolderError(folder, error);
  }
}

/** What the file system refuses, as something that a person can mend. */
function toFolderError(folder: string, error: unknown): unknown {
  const { code } = error as NodeJS.ErrnoException;
  if (!['EACCES', 'EPERM', 'EROFS', 'ENOSPC', 'EDQUOT'].includes(code ?? '')) return error;
  return new OperatingError(`The data folder ${folder} cannot be used: ${(error as Error).message}.`, {
    code: 'data-folder-not-writable',
    remedy: 'Free some space, start as the user that owns it, or name another folder with WARMBRICK_DATA_DIR.',
    cause: error,
  });
}

async function prepareLaunch(dataFolder: string, logger: Logger, fallbackRoot?: string): Promise<ServerLaunch> {
  const folders = arrangeFolders(dataFolder, logger, fallbackRoot);
  const programs = await installServerPrograms(join(folders.base, 'programs'));
  const cluster = join(folders.base, `postgres-${programs.major}`);
  const user = clusterUser(cluster, folders.user);
  await makeCluster(cluster, programs, user);
  const socketFolder = prepareSocketFolder(dataFolder, user);
  return { postgres: programs.postgres, cluster, socketFolder, logFile: join(folders.base, 'postgres.log'), user };
}

interface SupervisorOptions {
  readonly launch: ServerLaunch;
  readonly lock: FolderLock;
  readonly logger: Logger;
  readonly onGiveUp: ((error: OperatingError) => void) | undefined;
}

class Supervisor {
  readonly #options: SupervisorOptions;
  readonly #stopping = new AbortController();
  #child: ChildProcess | null = null;
  #recovery: Promise<void> = Promise.resolve();
  #restartsAt: number[] = [];
  #stopped: Promise<void> | null = null;

  constructor(options: SupervisorOptions) {
    this.#options = options;
  }

  async start(): Promise<void> {
    const { launch, logger } = this.#options;
    await stopOrphanServer(launch.cluster, logger);
    const child = await launchServer(launch, this.#stopping.signal);
    this.#child = child;
    child.once('exit', (code, signal) => {
      this.#child = null;
      if (this.#stopping.signal.aborted) return;
      logger.error({ code, signal }, 'the database server ended; starting it again');
      this.#recovery = this.#recover();
    });
    logger.info({ pid: child.pid, cluster: launch.cluster }, 'database server ready');
  }

  pid(): number | null {
    return this.#child?.pid ?? null;
  }

  stop(): Promise<void> {
    this.#stopped ??= this.#stopNow();
    return this.#stopped;
  }

  async #stopNow(): Promise<void> {
    this.#stopping.abort();
    await this.#recovery;
    if (this.#child !== null) await endServer(this.#child);
    removeSocketFolder(this.#options.launch.socketFolder);
    this.#options.lock.release();
  }

  async #recover(): Promise<void> {
    let cause: unknown;
    for (let delayMs = firstRestartDelayMs; this.#mayRestart(); delayMs *= 2) {
      try {
        await sleep(delayMs, undefined, { signal: this.#stopping.signal });
        await this.start();
        return;
      } catch (error) {
        if (this.#stopping.signal.aborted) return;
        this.#options.logger.error({ err: error }, 'the database server could not be restarted');
        cause = error;
      }
    }
    const error = new OperatingError('The database server keeps ending and is not started any more.', {
      code: 'server-keeps-ending',
      remedy: `Its log is ${this.#options.launch.logFile}; check the free space and memory.`,
      cause,
    });
    this.#options.logger.fatal({ err: error }, 'giving up on the database server');
    this.#options.onGiveUp?.(error);
  }

  /** Counts one more restart, unless there were too many within the window. */
  #mayRestart(): boolean {
    const now = performance.now();
    this.#restartsAt = this.#restartsAt.filter((at) => at > now - restartWindowMs);
    if (this.#restartsAt.length >= maxRestarts) return false;
    this.#restartsAt.push(now);
    return true;
  }
}
