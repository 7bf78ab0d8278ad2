/** Signals around an event, sampled evenly: what a freeze frame would have held, and how it came to that. */

import type { TimeSpan } from '@warmbrick/analysis';
import { type SignalWindowDocument, toInstant } from '@warmbrick/contracts';
import { type ChannelName, channels, type SampleBlock } from '@warmbrick/signals';

const minuteMs = 60_000;
/** Source: the project's own choice: ten minutes show what led to it, two what followed. */
const beforeMs = 10 * minuteMs;
const afterMs = 2 * minuteMs;
const stepMs = 15_000;
/** A value stands for the step after it at most this long. Source: engineering judgement; states come every 30-60 s. */
const holdMs = minuteMs;

/** Times, against the event, at which a printed sheet gives the values, in minutes. */
export const windowMarksMin = [-10, -5, -2, -1, 0, 1, 2] as const;
/** Where the event lies in the window. */
export const windowEventRatio = beforeMs / (beforeMs + afterMs);

/** Channels that a sheet shows where they were sent, in this order. */
const keyChannels: readonly ChannelName[] = [
  'engineSpeedRpm',
  'engineLoadPct',
  'exhaustTempC',
  'turbineOutTempC',
  'scrInletTempC',
  'coolantTempC',
  'defLevelPct',
  'defConcentrationPct',
  'defTempC',
  'defDosingGPerH',
  'noxInPpm',
  'noxOutPpm',
  'dpfSootPct',
  'dpfDeltaPressureKPa',
  'batteryV',
  'torqueLimitPct',
  'inducementSeverity',
];

/** Names on paper. A channel without one is called by its description. */
const labels: Readonly<Partial<Record<ChannelName, string>>> = {
  engineSpeedRpm: 'engine speed',
  engineLoadPct: 'engine load',
  exhaustTempC: 'exhaust',
  turbineOutTempC: 'turbine outlet',
  scrInletTempC: 'SCR inlet',
  coolantTempC: 'coolant',
  defLevelPct: 'DEF level',
  defConcentrationPct: 'urea in DEF',
  defTempC: 'DEF temperature',
  defDosingGPerH: 'DEF dosed',
  noxInPpm: 'NOx in',
  noxOutPpm: 'NOx out',
  dpfSootPct: 'soot load',
  dpfDeltaPressureKPa: 'filter pressure drop',
  batteryV: 'battery',
  torqueLimitPct: 'torque available',
  inducementSeverity: 'inducement severity',
};

/** The span that a window needs samples of. */
export function windowSpan(atMs: number): TimeSpan {
  return { fromMs: atMs - beforeMs - holdMs, toMs: atMs + afterMs + 1 };
}

/**
 * The window around an event; with the channel that a code is about, if there is one, before the usual ones.
 *
 * Missing: channels without a value in it are left out; null when none has any.
 */
export function signalWindow(
  blocks: readonly SampleBlock[],
  atMs: number,
  own: ChannelName | null = null,
): SignalWindowDocument | null {
  const names = own === null || keyChannels.includes(own) ? keyChannels : [own, ...keyChannels];
  const steps = Math.round((beforeMs + afterMs) / stepMs) + 1;
  const shown = names.flatMap((name) => {
    const values = Array.from({ length: steps }, (_, i) => valueAt(blocks, name, atMs - beforeMs + i * stepMs));
    if (values.every((value) => value === null)) return [];
    return [{ channel: name, label: labels[name] ?? labelOf(name), unit: unitOf(name), values }];
  });
  if (shown.length === 0) return null;
  return {
    at: toInstant(atMs),
    from: toInstant(atMs - beforeMs),
    to: toInstant(atMs + afterMs),
    stepS: stepMs / 1000,
    channels: shown,
  };
}

function valueAt(blocks: readonly SampleBlock[], name: ChannelName, atMs: number): number | null {
  let newestMs = atMs - holdMs;
  let found: number | null = null;
  for (const { timeMs, channels: columns } of blocks) {
    const column = columns[name];
    if (column === undefined) continue;
    for (let i = lastAtOrBefore(timeMs, atMs); i >= 0 && (timeMs[i] as number) > newestMs; i--) {
      const value = column[i] as number;
      if (Number.isNaN(value)) continue;
      newestMs = timeMs[i] as number;
      found = rounded(value, channels[name]);
      break;
    }
  }
  return found;
}

/** Index of the last time not after another; -1 when all are. */
function lastAtOrBefore(timeMs: Float64Array, atMs: number): number {
  let low = 0;
  let high = timeMs.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if ((timeMs[middle] as number) <= atMs) low = middle + 1;
    else high = middle;
  }
  return low - 1;
}

/** Units in which a reader wants no decimals. */
const wholeUnits: readonly string[] = ['rpm', 'degC', 'ppm', 'g/h', ''];

function rounded(value: number, { unit, resolution }: { readonly unit: string; readonly resolution: number }): number {
  return Number(value.toFixed(wholeUnits.includes(unit) || resolution >= 1 ? 0 : 1));
}

function labelOf(name: ChannelName): string {
  return channels[name].description.replace(/\.$/, '').toLowerCase();
}

function unitOf(name: ChannelName): string {
  const { unit } = channels[name];
  return unit === 'degC' ? '\u00b0C' : unit;
}
