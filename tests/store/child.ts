/** Starts a test's own TypeScript file as a process of its own and reads what it tells, line by line. */

import { type ChildProcess, spawn, spawnSync } from 'node:child_process';
import { once } from 'node:events';
import { createInterface } from 'node:readline';
import { fileURLToPath } from 'node:url';

export interface Child {
  readonly process: ChildProcess;
  /** Everything it told so far. */
  readonly told: Record<string, unknown>[];
  /** The first line with a field; rejects when the process ends without it. */
  line(field: string): Promise<Record<string, unknown>>;
  /** Sends a signal and waits until the process is gone. */
  end(signal: NodeJS.Signals): Promise<void>;
}

export interface ChildOptions {
  /** Put before the command, such as `['setpriv', '--reuid', '65534']`. */
  readonly prefix?: readonly string[];
  readonly env?: Readonly<Record<string, string>>;
}

/** Runs `node` on a file beside this one. */
export function startChild(file: string, args: readonly string[], options: ChildOptions = {}): Child {
  const script = fileURLToPath(new URL(file, import.meta.url));
  const root = fileURLToPath(new URL('../..', import.meta.url));
  const command = [
    ...(options.prefix ?? []),
    process.execPath,
    '--import',
    'tsx',
    '--conditions=source',
    script,
    ...args,
  ];
  const child = spawn(command[0] as string, command.slice(1), {
    cwd: root,
    env: { ...process.env, ...options.env },
    stdio: ['ignore', 'pipe', 'pipe'],
  });
  const told: Record<string, unknown>[] = [];
  const errors: string[] = [];
  const waiting = new Set<() => void>();
  createInterface({ input: child.stdout }).on('line', (line) => {
    told.push(JSON.parse(line));
    for (const wake of waiting) wake();
  });
  child.stderr.setEncoding('utf8').on('data', (text: string) => errors.push(text));
  const closed = once(child, 'close').then(() => {
    for (const wake of waiting) wake();
  });
  const isOver = () => child.exitCode !== null || child.signalCode !== null;

  return {
    process: child,
    told,
    async line(field) {
      for (;;) {
        const found = told.find((line) => field in line);
        if (found !== undefined) return found;
        if (isOver()) throw new Error(`ended without "${field}": ${errors.join('')}`);
        await new Promise<void>((wake) => waiting.add(wake));
      }
    },
    async end(signal) {
      if (!isOver()) child.kill(signal);
      await closed;
    },
  };
}

/** Whether a process runs. One that has ended but was not collected by its parent does not. */
export function isRunning(pid: number): boolean {
  try {
    process.kill(pid, 0);
  } catch {
    return false;
  }
  const state = spawnSync('ps', ['-o', 'stat=', '-p', String(pid)], { encoding: 'utf8' }).stdout.trim();
  return state !== '' && !state.startsWith('Z');
}
