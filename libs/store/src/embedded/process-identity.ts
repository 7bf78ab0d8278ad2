/** Telling one process from a later one that got the same number. */

import { execFileSync } from 'node:child_process';
import { readFileSync } from 'node:fs';

/**
 * A text that only this run of the process has: boot and start time; null when no such process is running.
 *
 * A process that has ended but was not collected by its parent counts as not running.
 */
export function processIdentity(pid: number): string | null {
  return process.platform === 'linux' ? identityFromProc(pid) : identityFromPs(pid);
}

function identityFromProc(pid: number): string | null {
  try {
    // The command in brackets may hold spaces, so fields are counted from the last bracket: state is 3, start time 22.
    const stat = readFileSync(`/proc/${pid}/stat`, 'utf8');
    const fields = stat.slice(stat.lastIndexOf(')') + 2).split(' ');
    if (fields[0] === 'Z' || fields[0] === 'X') return null;
    const boot = readFileSync('/proc/sys/kernel/random/boot_id', 'utf8').trim();
    return `${boot}:${fields[19]}`;
  } catch {
    return null;
  }
}

function identityFromPs(pid: number): string | null {
  try {
    const line = execFileSync('ps', ['-o', 'stat=,lstart=', '-p', String(pid)], { encoding: 'utf8' }).trim();
    if (line === '' || line.startsWith('Z')) return null;
    return line.replace(/^\S+\s+/, '');
  } catch {
    return null;
  }
}
