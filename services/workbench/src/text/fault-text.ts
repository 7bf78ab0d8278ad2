/** The fault log on a terminal. */

import type { FaultLine } from '@warmbrick/contracts';
import { zoneClock } from './durations.js';

/** Times of one code that are written out. */
const timesShown = 6;

/** The log of one machine, ready to print; lines come in the order they are given. */
export function faultLogText(machineId: string, lines: readonly FaultLine[], timeZone: string): string {
  if (lines.length === 0) return `${machineId}: no fault code was reported.\n`;
  const clock = zoneClock(timeZone);
  const written = (at: string) => `${clock.day(Date.parse(at))} ${clock.time(Date.parse(at))}`;
  const active = lines.filter(({ isActive }) => isActive).length;
  const head = `${machineId}: ${count(lines.length, 'fault code')}, ${active} still active at the end; times in ${timeZone}`;
  return `${[head, ...lines.map((line) => lineText(line, written))].join('\n\n')}\n`;
}

function lineText(line: FaultLine, written: (at: string) => string): string {
  const { spn, fmi, sourceAddress, spnWords, fmiWords, occurrences, firstAt, lastAt, isActive, reportedCount } = line;
  const from = sourceAddress === null ? 'controller not said' : `controller ${sourceAddress}`;
  const counted = reportedCount === null ? '' : `, the controller counts ${reportedCount}`;
  return [
    `SPN ${spn} FMI ${fmi}  ${spnWords}: ${fmiWords}`,
    `  ${count(occurrences, 'time')}${counted}; ${from}; ${isActive ? 'still active' : 'not active'}`,
    `  first ${written(firstAt)}, last ${written(lastAt)}`,
    ...(line.isConsequence ? ['  says that power is taken, not why: look for the fault that came first'] : []),
    ...line.episodes.slice(0, timesShown).map((episode) => `    ${timeText(episode, written)}`),
    ...(line.episodes.length > timesShown ? [`    and ${line.episodes.length - timesShown} earlier`] : []),
  ].join('\n');
}

function timeText(episode: FaultLine['episodes'][number], written: (at: string) => string): string {
  const { startedAt, endedAt, endedBy, isPreviouslyActiveOnly } = episode;
  if (isPreviouslyActiveOnly) return `told as previously active at ${written(startedAt)}`;
  if (endedAt === null) return `from ${written(startedAt)}, still active`;
  return `from ${written(startedAt)} to ${written(endedAt)}${endedBy === 'unknown' ? ' (last told of)' : ''}`;
}

function count(number: number, what: string): string {
  return `${number} ${what}${number === 1 ? '' : 's'}`;
}
