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
  const from = restsOn[load.sootBasis ?? (load.isMeasured ? 'signal' : 'model')];
  const doubt = load.sootDoubtRatio === null ? '' : `, give or take ${percent(load.sootDoubtRatio)}`;
  return `soot in the filter: ${load.sootG} g, ${percent(load.sootRatio)} of its limit${doubt} (${from}${supplyText(load)})`;
}

/** What the load rests on. */
const restsOn = {
  model: 'by model alone',
  signal: 'by model and the machine’s own soot signal',
  pressure: 'by model and the pressure drop over the filter',
  'signal-and-pressure': 'by model, the machine’s own soot signal and the pressure drop over the filter',
} as const;

/** Where the NO2 that burns soot off comes from; nothing where a measurement carries the load anyway. */
function supplyText({ sootBasis, no2Basis }: Load): string {
  if (sootBasis !== 'model') return '';
  if (no2Basis === 'sensed') return '; NO2 for the burn-off from the NOx sensor and the exhaust flow';
  return no2Basis === 'estimated' ? '; NO2 for the burn-off estimated from load and fuel' : '';
}

function depositLine(load: Load): string {
  const from = load.isDepositMeasured ? 'by model and the NOx conversion' : 'by model alone';
  return `urea deposits: ${load.depositG} g, ${percent(load.depositRatio)} of ${load.depositLimitG} g (${from})`;
}

function clearingLine(load: Load): string {
  if (load.minutesUntilClean === 0) return 'clean enough as it is';
  if (load.minutesUntilClean === null) {
    return `work at ${load.workTempC} °C would not clear it within ten hours: have it looked at`;
  }
  return `about ${durationText(load.minutesUntilClean * 60)} of work at ${load.workTempC} °C would clear it`;
}

function limitLine(load: Load): string[] {
  switch (load.wayToLimit) {
    case 'no-filter':
      return [];
    case 'reached':
      return ['the soot limit is reached: the filter wants to be burnt off now'];
    case 'never':
      return ['at the duty of late soot burns off as fast as it comes: the limit is never reached'];
    case 'far':
      return ['at the duty of late the soot limit is over 1000 running hours away'];
    case 'unknown':
      return ['how soon the soot limit comes cannot be told yet'];
    case 'ahead':
      return [`at the duty of late the soot limit is ${hours(load.hoursToLimit ?? 0)} away`];
  }
}

function hours(count: number): string {
  if (count < 1) return 'less than a running hour';
  const whole = Math.round(count);
  return `about ${whole} running hour${whole === 1 ? '' : 's'}`;
}

function percent(ratio: number): string {
  return `${Math.round(ratio * 100)} %`;
}
