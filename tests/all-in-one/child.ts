/** The all-in-one process as a person starts it, on a folder and a port of its own. */

import { type ChildProcess, spawn } from 'node:child_process';
import { readdirSync, readFileSync } from 'node:fs';
import { chmod, mkdtemp, rm } from 'node:fs/promises';
import { type AddressInfo, createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { type MachineItem, machineListSchema } from '@warmbrick/contracts';

const repository = fileURLToPath(new URL('../../', import.meta.url));

export interface Child {
  readonly process: ChildProcess;
  readonly out: () => string;
  readonly err: () => string;
  /** Exit code, or the signal that ended it. */
  readonly ended: Promise<number | string | null>;
}

/** Starts it from the sources, with nothing of our own environment that it would read. */
export function startChild(env: Record<string, string>): Child {
  const entry = 'services/all-in-one/src/main.ts';
  const base = { PATH: process.env.PATH ?? '', HOME: process.env.HOME ?? '', TMPDIR: process.env.TMPDIR ?? '' };
  const child = spawn(process.execPath, ['--conditions=source', '--import', 'tsx', entry], {
    cwd: repository,
    env: { ...base, ...env },
    stdio: ['ignore', 'pipe', 'pipe'],
  });
  let out = '';
  let err = '';
  child.stdout.setEncoding('utf8').on('data', (text: string) => {
    out += text;
  });
  child.stderr.setEncoding('utf8').on('data', (text: string) => {
    err += text;
  });
  const ended = new Promise<number | string | null>((resolve) => {
    child.on('close', (code, signal) => resolve(code ?? signal));
  });
  return { process: child, out: () => out, err: () => err, ended };
}

export async function temporaryFolder(): Promise<{ path: string; remove: () => Promise<void> }> {
  const path = await mkdtemp(join(tmpdir(), 'warmbrick-all-'));
  // The database of a root user runs as somebody else, who has to be able to enter.
  await chmod(path, 0o755);
  return { path, remove: () => rm(path, { recursive: true, force: true }) };
}

/** A port that nobody listens on now. */
export async function freePort(): Promise<number> {
  const server = createServer().listen(0, '127.0.0.1');
  await new Promise((resolve) => server.once('listening', resolve));
  const { port } = server.address() as AddressInfo;
  await new Promise((resolve) => server.close(resolve));
  return port;
}

/** Waits until the child has printed something, or fails with what it printed instead. */
export async function untilPrinted(child: Child, pattern: RegExp, timeoutMs = 60_000): Promise<void> {
  const until = Date.now() + timeoutMs;
  let isOver = false;
  void child.ended.then(() => {
    isOver = true;
  });
  while (!pattern.test(child.out())) {
    if (isOver || Date.now() > until) throw new Error(`no ${pattern} in:\n${child.out()}\n${child.err()}`);
    await new Promise((resolve) => setTimeout(resolve, 25));
  }
}

export async function listMachines(port: number): Promise<MachineItem[]> {
  const answer = await fetch(`http://127.0.0.1:${port}/v1/machines?limit=200&sort=name`);
  return machineListSchema.parse(await answer.json()).items;
}

/** Processes whose command line names a folder (Linux). */
export function processesOf(folder: string): string[] {
  return readdirSync('/proc')
    .filter((name) => /^\d+$/.test(name))
    .flatMap((pid) => {
      try {
        const line = readFileSync(`/proc/${pid}/cmdline`, 'utf8').replaceAll('\0', ' ');
        return line.includes(folder) ? [`${pid} ${line}`] : [];
      } catch {
        return [];
      }
    });
}
