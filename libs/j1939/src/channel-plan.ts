/** What to do with the messages of each group so that channels come out; worked out once, when the library loads. */

import { type Channel, type ChannelName, channelNames, channels } from '@warmbrick/signals';
import { signalStatus } from './decode-signals.js';
import type { RawStatus } from './raw-status.js';
import { type Signal, signals } from './signal-table.js';

/** Why a received value is not usable. */
export type UnusableReason = 'implausible' | 'not-available' | 'error' | 'reserved' | 'sentinel';

export const unusableReasons: readonly UnusableReason[] = [
  'implausible',
  'not-available',
  'error',
  'reserved',
  'sentinel',
];

/** One signal of a group that a channel takes its values from. */
export interface PlanField {
  readonly signal: Signal;
  readonly channel: Channel & { readonly name: ChannelName };
  /** Place of the channel in the catalogue. */
  readonly channelIndex: number;
  /** First bit after the field. */
  readonly endBit: number;
  /** Status of every value of a field up to 8 bits, by raw value; null for longer fields. */
  readonly statusByRaw: readonly RawStatus[] | null;
  /** Raw values that are valid on the wire and yet no measurement. */
  readonly sentinels: readonly number[];
  /** Signals of the same group that must read 1 or "not available" for the value to count. */
  readonly gates: readonly Signal[];
}

export interface GroupPlan {
  readonly pgn: number;
  readonly fields: readonly PlanField[];
}

/** Where a channel's values may come from, best first. */
export interface ChannelSource {
  /** Place in `groupPlans`. */
  readonly planIndex: number;
  /** Place in the plan's fields. */
  readonly fieldIndex: number;
}

/** NOx readings count only while the sensor says that it is at temperature and stable. Source: SAE J1939-71 (2012). */
const gateSpns: Readonly<Record<number, readonly number[]>> = { 3216: [3219, 3220], 3226: [3229, 3230] };

/** NOx sensor off: 3012.75 ppm; and raw 0, -200 ppm. Source: recorded frames of three engines. */
const noxSentinels = [0xfaff, 0];
/** 0.000, -25.0, -64.906 and -273 degC: placeholders before the first valid sample. Source: recorded frames. */
const exhaustTempSentinels = [8736, 7936, 6659, 0];
/** Raw 0: -40 degC of coolant, -125 % of torque, seen after key-on. Source: recorded frames. */
const zeroSentinel = [0];

const sentinelsBySpn: Readonly<Record<number, readonly number[]>> = {
  3216: noxSentinels,
  3226: noxSentinels,
  173: exhaustTempSentinels,
  3241: exhaustTempSentinels,
  3242: exhaustTempSentinels,
  3246: exhaustTempSentinels,
  4360: exhaustTempSentinels,
  4363: exhaustTempSentinels,
  4765: exhaustTempSentinels,
  4766: exhaustTempSentinels,
  110: zeroSentinel,
  513: zeroSentinel,
};

const signalBySpn: ReadonlyMap<number, Signal> = new Map(signals.map((signal) => [signal.spn, signal]));

/** The plans of all groups that a channel needs. */
export const groupPlans: readonly GroupPlan[] = buildGroupPlans();

/** Sources by channel, in catalogue order; a channel without a standard parameter has none. */
export const channelSources: readonly (readonly ChannelSource[])[] = channelNames.map(sourcesOf);

function buildGroupPlans(): GroupPlan[] {
  const fieldsByPgn = new Map<number, PlanField[]>();
  for (const [channelIndex, name] of channelNames.entries()) {
    for (const spn of channels[name].spns) {
      const signal = signalBySpn.get(spn);
      if (!signal) continue;
      const fields = fieldsByPgn.get(signal.pgn) ?? [];
      fields.push(planField(signal, name, channelIndex));
      fieldsByPgn.set(signal.pgn, fields);
    }
  }
  return [...fieldsByPgn].map(([pgn, fields]) => ({ pgn, fields }));
}

function planField(signal: Signal, name: ChannelName, channelIndex: number): PlanField {
  const gates = (gateSpns[signal.spn] ?? []).map((spn) => signalBySpn.get(spn) as Signal);
  return {
    signal,
    channel: channels[name] as PlanField['channel'],
    channelIndex,
    endBit: signal.startBit + signal.bits,
    statusByRaw:
      signal.bits <= 8 ? Array.from({ length: 2 ** signal.bits }, (_, raw) => signalStatus(signal, raw)) : null,
    sentinels: sentinelsBySpn[signal.spn] ?? [],
    gates,
  };
}

function sourcesOf(name: ChannelName): ChannelSource[] {
  return channels[name].spns.flatMap((spn) => {
    const planIndex = groupPlans.findIndex((plan) => plan.fields.some((field) => field.signal.spn === spn));
    if (planIndex < 0) return [];
    const fields = (groupPlans[planIndex] as GroupPlan).fields;
    const fieldIndex = fields.findIndex((field) => field.signal.spn === spn && field.channel.name === name);
    return [{ planIndex, fieldIndex }];
  });
}
