/** What engine, filter and supply signals say about a fault. */

import type { ChannelName } from '@warmbrick/signals';
import { rounded } from '../figures.js';
import { type Testimony, testimony, troubleStretch, type WitnessContext } from './testimony.js';
import type { Trouble } from './trouble.js';

/** Values that agree with a code of the same quantity, and values that do not. */
interface Bounds {
  readonly quantity: string;
  readonly unit: string;
  /** Too high from here on, sound up to there; likewise too low. Missing: not judged. */
  readonly high?: { readonly offAt: number; readonly soundTo: number };
  readonly low?: { readonly offAt: number; readonly soundFrom: number };
}

/** Source: engineering judgement, wide of any maker's own limit. */
const bounds: Readonly<Partial<Record<ChannelName, Bounds>>> = {
  coolantTempC: { quantity: 'coolant', unit: 'C', high: { offAt: 103, soundTo: 98 } },
  oilTempC: { quantity: 'engine oil', unit: 'C', high: { offAt: 120, soundTo: 110 } },
  intakeManifoldTempC: { quantity: 'intake air', unit: 'C', high: { offAt: 80, soundTo: 65 } },
  turbineOutTempC: { quantity: 'exhaust behind the turbine', unit: 'C', high: { offAt: 580, soundTo: 500 } },
  scrInletTempC: { quantity: 'SCR inlet', unit: 'C', high: { offAt: 550, soundTo: 500 } },
  airFilterDeltaPressureKPa: { quantity: 'air filter restriction', unit: 'kPa', high: { offAt: 5.5, soundTo: 4 } },
  dpfSootPct: { quantity: 'soot load', unit: '%', high: { offAt: 100, soundTo: 80 } },
  dpfAshPct: { quantity: 'ash load', unit: '%', high: { offAt: 95, soundTo: 70 } },
  dpfDeltaPressureKPa: { quantity: 'pressure over the filter', unit: 'kPa', high: { offAt: 15, soundTo: 8 } },
};

/** Supply voltage against its nominal 12 or 24 V. Source: engineering judgement. */
const supply = { lowRatio: 0.9, highRatio: 1.25, limitV: 18 };
const highFmis: readonly number[] = [0, 15, 16];
/** Numbers whose circuits fail when the supply does. */
const supplySpns: readonly number[] = [168, 158, 620, 627, 629, 639];
const moment = 15 * 60_000;

export function engineTestimony(trouble: Trouble, context: WitnessContext): Testimony[] {
  return [
    ...quantityTestimony(trouble, context),
    ...supplyTestimony(trouble, context),
    ...sootTestimony(trouble, context),
  ];
}

/** The same quantity as the code is about, when it came and after. */
function quantityTestimony(trouble: Trouble, context: WitnessContext): Testimony[] {
  const { known, isOfValue } = trouble.description;
  const channel = known?.channel ?? null;
  const bound = channel === null ? undefined : bounds[channel];
  const isHigh = highFmis.includes(trouble.anchor.fmi);
  if (channel === null || bound?.high === undefined || !isOfValue || !isHigh) return [];
  const { fromMs, toMs } = troubleStretch(trouble, context.derateStartMs);
  const stats = context.view.stats(channel, { fromMs: Math.min(fromMs, trouble.anchorMs - moment), toMs });
  if (stats === null) return [];
  const figures = {
    [`highest${bound.unit === 'C' ? 'C' : bound.unit === '%' ? 'Pct' : 'KPa'}`]: rounded(stats.max, 1),
  };
  const read = `${bound.quantity} at ${rounded(stats.max, 1)} ${bound.unit} at most`;
  if (stats.max >= bound.high.offAt) return [testimony(`The signals agree: ${read}.`, 1.6, { figures })];
  if (stats.max > bound.high.soundTo) return [];
  const suspect = { channel, why: `a code says too high, the recorded ${read}` };
  return [testimony(`The signals disagree: ${read}.`, 0.4, { figures, suspect })];
}

function supplyTestimony(trouble: Trouble, context: WitnessContext): Testimony[] {
  const { known } = trouble.description;
  const isSupply = known !== null && supplySpns.includes(known.spn);
  if (!isSupply) return [];
  const { anchorMs } = trouble;
  const volts = context.view
    .values('batteryV', { fromMs: anchorMs - moment, toMs: anchorMs + moment })
    .map(({ value }) => value);
  if (volts.length < 3) return [];
  const sorted = [...volts].sort((a, b) => a - b);
  const middleV = sorted[sorted.length >> 1] as number;
  const nominalV = middleV > supply.limitV ? 24 : 12;
  const [leastV, mostV] = [sorted[0] as number, sorted.at(-1) as number];
  const figures = { leastV: rounded(leastV, 2), mostV: rounded(mostV, 2), nominalV };
  if (leastV < supply.lowRatio * nominalV || mostV > supply.highRatio * nominalV) {
    return [testimony('The supply voltage was off at that time.', 2, { figures })];
  }
  return [testimony('The supply voltage was steady.', 0.6, { figures })];
}

/** Regenerations held off make a soot code likely whatever its sensor says. */
function sootTestimony(trouble: Trouble, context: WitnessContext): Testimony[] {
  if (trouble.description.inducementClass !== 'soot') return [];
  const { anchorMs } = trouble;
  const dayMs = 24 * 3_600_000;
  const held = context.findings.some(
    ({ kind, startedMs, endedMs }) =>
      kind === 'regeneration-inhibited' && startedMs <= anchorMs && (endedMs ?? anchorMs) > anchorMs - 2 * dayMs,
  );
  return held ? [testimony('A regeneration was needed and did not come before that.', 1.3)] : [];
}
