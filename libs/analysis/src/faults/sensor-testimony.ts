/** Whether a sensor that a code calls faulty behaved as if it were. */

import type { ChannelName } from '@warmbrick/signals';
import { rounded } from '../figures.js';
import { type Testimony, testimony, type WitnessContext } from './testimony.js';
import type { Trouble } from './trouble.js';

const hourMs = 3_600_000;
/** Running values needed on either side of the code. Source: engineering judgement. */
const leastValues = 10;
/** A leap of this share of the channel's usual span when the code came. Source: engineering judgement. */
const leapRatio = 0.35;
/** Spans that channels usually move in. Source: engineering judgement. */
const spans: Readonly<Partial<Record<ChannelName, number>>> = {
  defLevelPct: 60,
  defConcentrationPct: 20,
  defTempC: 60,
  noxInPpm: 1000,
  noxOutPpm: 500,
  scrInletTempC: 300,
  scrOutletTempC: 300,
  dpfInletTempC: 300,
  dpfSootPct: 100,
  dpfDeltaPressureKPa: 20,
  coolantTempC: 80,
  intakeManifoldTempC: 60,
  intakeManifoldPressureKPa: 200,
  oilTempC: 80,
  turbineOutTempC: 300,
  scrConversionPct: 80,
  airFilterDeltaPressureKPa: 6,
};
/** Signals that move whenever the engine works; flat ones are dead. */
const livelyChannels: readonly ChannelName[] = [
  'noxInPpm',
  'noxOutPpm',
  'scrInletTempC',
  'turbineOutTempC',
  'intakeManifoldPressureKPa',
];

export function sensorTestimony(trouble: Trouble, context: WitnessContext): Testimony[] {
  const { known, isOfValue } = trouble.description;
  const channel = known?.channel ?? null;
  if (channel === null || isOfValue) return [];
  const { anchorMs } = trouble;
  const toMs = Math.min(context.derateStartMs, anchorMs + 4 * hourMs);
  const before = { fromMs: anchorMs - 2 * hourMs, toMs: anchorMs - 60_000 };
  const after = { fromMs: anchorMs + 60_000, toMs: Math.max(toMs, anchorMs + 10 * 60_000) };
  const was = context.view.stats(channel, before);
  const is = context.view.stats(channel, after);
  if (was === null || was.count < leastValues) return [];
  const text = (what: string) => `The signal of that sensor ${what}.`;
  const suspect = (why: string) => ({ channel, why });
  if (is === null) {
    const hasRun = context.view.runningCount(after) >= leastValues;
    if (!hasRun) return [];
    return [
      testimony(text('stopped when the code came'), 1.5, { suspect: suspect('it stopped when a code of it came') }),
    ];
  }
  const span = spans[channel] ?? 100;
  const leap = Math.abs(is.mean - was.last);
  const figures = { before: rounded(was.last, 1), after: rounded(is.mean, 1) };
  const isFlat = is.count >= leastValues && is.max === is.min;
  if (leap >= leapRatio * span) {
    return [
      testimony(text('leapt when the code came'), 1.5, {
        figures,
        suspect: suspect('it leapt when a code of it came'),
        kind: 'sensor',
      }),
    ];
  }
  if (isFlat && (livelyChannels.includes(channel) || was.max > was.min)) {
    return [
      testimony(text('stood still from then on'), 1.3, {
        figures,
        suspect: suspect('it stood still after a code of it came'),
        kind: 'sensor',
      }),
    ];
  }
  return [testimony(text('went on as before'), 0.75, { figures })];
}
