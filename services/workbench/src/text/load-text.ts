/** What the models say of a machine, in words that a site lead understands. */

import type { MachineReport } from '@warmbrick/contracts';
import { durationText } from './durations.js';

type Load = NonNullable<MachineReport['load']>;

/** Lines about soot, deposits and the outlook; none for a machine that was not seen running. */
export function loadLines(load: MachineReport['load']): string[] {
  return load === null ? [] : [sootLine(load), depositLine(load), clearingLine(load), ...limitLine(load)];
}

function sootLine(load: Load): string {
  if (load.sootRatio === null) return 'no particulate filter to fill';
  const from = load.isMeasured ? 'by model and the machine’s own soot signal' : 'by model alone';
  const doubt = load.sootDoubtRatio === null ? '' : `, give or take ${percent(load.sootDoubtRatio)}`;
  return `soot in the filter: ${load.sootG} g, ${percent(load.sootRatio)} of its limit${doubt} (${from})`;
}

function depositLine(load: Load): string {
  return `urea deposits: ${load.depositG} g, ${percent(load.depositRatio)} of ${load.depositLimitG} g (by model)`;
}

function clearingLine(load: Load): string {
  if (load.minutesUntilClean === 0) return 'clean enough as it is';
  if (load.minutesUntilClean === null) {
    return `work at ${load.workTempC} °C would not clear it within ten hours: have it looked at`;
  }
  return `about ${durationText(load.minutesUntilClean * 60)} of work at ${load.workTempC} °C would clear it`;
}

function limitLine(load: Load): string[] {
  if (load.sootRatio === null) return [];
  if (load.hoursToLimit === 0) return ['the soot limit is reached'];
  if (load.hoursToLimit === null) return ['at the duty of late the soot limit is never reached'];
  return [`at the duty of late the soot limit is ${Math.round(load.hoursToLimit)} running hours away`];
}

function percent(ratio: number): string {
  return `${Math.round(ratio * 100)} %`;
}
