/** Processor time of other processes, the database's and the broker's, and of the main thread of this one. */

import { readdirSync, readFileSync } from 'node:fs';

/** Clock ticks a second. Source: Linux, sysconf(_SC_CLK_TCK), 100 on every common platform. */
const ticksPerS = 100;

/** Processor time of a process and its children, those that have ended included, s. Source: Linux, proc(5). */
export function cpuOf(pid: number): number {
  let ticks = 0;
  for (const { fields, id } of processes()) {
    const isIt = id === pid;
    if (!isIt && Number(fields[1]) !== pid) continue;
    ticks += Number(fields[11]) + Number(fields[12]) + (isIt ? Number(fields[13]) + Number(fields[14]) : 0);
  }
  return ticks / ticksPerS;
}

/** Processor time of a process alone, s: cheap enough to be asked again and again. */
export function cpuOfOne(pid: number): number {
  return cpuIn(`/proc/${pid}/stat`);
}

/** Processor time of a process's main thread alone, s: the rest is that of threads, collectors and unpackers. */
export function cpuOfMainThread(pid: number): number {
  return cpuIn(`/proc/${pid}/task/${pid}/stat`);
}

function cpuIn(path: string): number {
  const stat = readFileSync(path, 'utf8');
  const fields = stat.slice(stat.lastIndexOf(')') + 2).split(' ');
  return (Number(fields[11]) + Number(fields[12])) / ticksPerS;
}

/** The most memory that a process has had resident, in MB of 10^6 bytes. */
export function peakMemoryMb(pid: number): number {
  const [, kibibytes] = /VmHWM:\s*(\d+) kB/.exec(readFileSync(`/proc/${pid}/status`, 'utf8')) ?? [];
  return (Number(kibibytes) * 1024) / 1e6;
}

/** The broker's is a grandchild of ours, under a shell that ends it with us. */
export function cpuOfBroker(): number {
  const all = [...processes()];
  const own = new Set(all.filter(({ fields }) => Number(fields[1]) === process.pid).map(({ id }) => id));
  const ours = all.filter(({ command, fields }) => command === 'java' && own.has(Number(fields[1])));
  return ours.reduce((sum, { fields }) => sum + Number(fields[11]) + Number(fields[12]), 0) / ticksPerS;
}

/** Fields of /proc/pid/stat from the third on. */
function* processes(): Generator<{ id: number; command: string; fields: string[] }> {
  for (const name of readdirSync('/proc')) {
    if (!/^\d+$/.test(name)) continue;
    try {
      const stat = readFileSync(`/proc/${name}/stat`, 'utf8');
      const command = stat.slice(stat.indexOf('(') + 1, stat.lastIndexOf(')'));
      yield { id: Number(name), command, fields: stat.slice(stat.lastIndexOf(')') + 2).split(' ') };
    } catch {
      // It has ended meanwhile.
    }
  }
}
