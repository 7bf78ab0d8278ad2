/** Runs the command in this process and keeps what it wrote. */

import { runCommand } from '@warmbrick/workbench';

export interface Ran {
  readonly exitCode: number;
  readonly out: string;
  readonly err: string;
}

export async function run(...args: string[]): Promise<Ran> {
  const out: string[] = [];
  const err: string[] = [];
  const exitCode = await runCommand(args, {
    out: (text) => out.push(text),
    err: (text) => err.push(text),
    isWatched: false,
  });
  return { exitCode, out: out.join(''), err: err.join('') };
}
