/** Takes the values of suspect channels out of a window, and lets the next best exhaust temperature stand in. */

import { exhaustSourceOrder } from '@warmbrick/signals';
import type { FurtherChannel } from './further-channels.js';
import { firstAtOrAfter } from './minute-marks.js';
import type { SampleWindow } from './sample-window.js';
import type { Silence } from './suspicion.js';

/** Silences the window in place; its last sample is kept as it was sent, for the next one. */
export function silenceWindow(window: SampleWindow, silences: readonly Silence[]): SampleWindow {
  const sent = window.last();
  const ranges = silences.map((silence) => ({ channel: silence.channel, ...rangeOf(window, silence) }));
  for (const { channel, from, to } of ranges) {
    for (const column of columnsOf(window, channel)) column.fill(Number.NaN, from, to);
  }
  exhaustSourceOrder.forEach((name, source) => {
    for (const { channel, from, to } of ranges) if (channel === name) replaceExhaust(window, source, { from, to });
  });
  return { ...window, last: () => sent };
}

interface Range {
  readonly from: number;
  readonly to: number;
}

function rangeOf({ timeMs, length }: SampleWindow, { afterMs, toMs }: Silence): Range {
  const all = { from: 0, to: length };
  return { from: firstAtOrAfter(timeMs, all, afterMs + 1), to: firstAtOrAfter(timeMs, all, toMs + 1) };
}

function columnsOf(window: SampleWindow, channel: string): Float32Array[] {
  const columns: (Float32Array | undefined)[] = [window.observed.further[channel as FurtherChannel]];
  if (channel === 'turbineOutTempC') columns.push(window.turbineTempC);
  if (channel === 'coolantTempC') columns.push(window.coolant);
  return columns.filter((column) => column !== undefined);
}

/** Samples that took their exhaust temperature from a silenced source take the next that has one. */
function replaceExhaust(window: SampleWindow, source: number, { from, to }: Range): void {
  const { exhaustTempC, observed } = window;
  const { exhaustSource } = observed;
  const others = exhaustSourceOrder.map((name) => observed.further[name as FurtherChannel]);
  for (let i = from; i < to; i++) {
    if (exhaustSource[i] !== source) continue;
    exhaustTempC[i] = Number.NaN;
    exhaustSource[i] = 0;
    for (let next = source + 1; next < others.length; next++) {
      const value = others[next]?.[i] ?? Number.NaN;
      if (value !== value) continue;
      exhaustTempC[i] = value;
      exhaustSource[i] = next;
      break;
    }
  }
}
