/** The telematics gateway: when it is awake, what it loses, and which sensors lie. */

import { seedFrom } from './random.js';
import type { Readings, SimulatedChannel } from './readings.js';

export interface Gateway {
  /** Time between samples. Default 1. */
  readonly samplePeriodS?: number;
  /** How long it goes on sending after the key is off; 0 dies with the key. Default 120. */
  readonly awakeAfterKeyOffS?: number;
  /** Stretches whose samples never arrive, in seconds from the start of the simulation. */
  readonly lostStretches?: readonly { readonly fromS: number; readonly toS: number }[];
}

/**
 * A sensor that does not measure.
 *
 * `missing` sends nothing, `stuck` repeats the value it had when the fault began, `error` has no usable value in a
 * share of the samples, `drift` is off by more and more, `swapped` has its plug in another sensor's socket and the other
 * way round.
 */
export interface SensorFault {
  readonly channel: SimulatedChannel;
  readonly kind: 'missing' | 'stuck' | 'error' | 'drift' | 'swapped';
  /** Seconds from the start of the simulation. Defaults: from the start, for ever. */
  readonly fromS?: number;
  readonly toS?: number;
  /** Share of samples without a value, for `error`. Default 0.4. */
  readonly ratio?: number;
  /** What a drifting sensor is further off each hour, in the unit of the channel. Default 2. */
  readonly perHour?: number;
  /** The other sensor of a swap. */
  readonly with?: SimulatedChannel;
}

const defaultErrorRatio = 0.4;
const defaultDriftPerHour = 2;

/** Whether a fault is there at a second from the start of the simulation. */
export function isFaulty(fault: SensorFault, sinceStartS: number): boolean {
  return sinceStartS >= (fault.fromS ?? 0) && sinceStartS < (fault.toS ?? Number.POSITIVE_INFINITY);
}

/** Whether a second lies in a stretch whose samples are lost. */
export function isLost(gateway: Gateway, sinceStartS: number): boolean {
  for (const stretch of gateway.lostStretches ?? []) {
    if (sinceStartS >= stretch.fromS && sinceStartS < stretch.toS) return true;
  }
  return false;
}

/** Puts sensor faults over readings. Keeps what stuck sensors hold; one for a machine. */
export function createFaultOverlay(faults: readonly SensorFault[], seed: number) {
  const held = new Map<SensorFault, number>();
  const byChannel = new Map<SimulatedChannel, SensorFault[]>();
  const note = (channel: SimulatedChannel, fault: SensorFault): void => {
    byChannel.set(channel, [...(byChannel.get(channel) ?? []), fault]);
  };
  for (const fault of faults) {
    note(fault.channel, fault);
    if (fault.kind === 'swapped' && fault.with !== undefined) {
      note(fault.with, { ...fault, channel: fault.with, with: fault.channel });
    }
  }
  return {
    /** The value that the gateway gets instead of the true one. */
    read(channel: SimulatedChannel, readings: Readings, sinceStartS: number): number {
      let seen = readings[channel];
      for (const fault of byChannel.get(channel) ?? []) {
        if (!isFaulty(fault, sinceStartS)) continue;
        seen = fault.kind === 'swapped' ? readings[fault.with ?? channel] : apply(fault, seen, sinceStartS);
      }
      return seen;
    },
    isEmpty: faults.length === 0,
  };

  function apply(fault: SensorFault, value: number, sinceStartS: number): number {
    if (fault.kind === 'missing') return Number.NaN;
    if (fault.kind === 'stuck') {
      if (!held.has(fault)) held.set(fault, value);
      return held.get(fault) as number;
    }
    if (fault.kind === 'drift') {
      return value + ((fault.perHour ?? defaultDriftPerHour) * (sinceStartS - (fault.fromS ?? 0))) / 3600;
    }
    const draw = seedFrom(seed, fault.channel, sinceStartS) / 0x1_0000_0000;
    return draw < (fault.ratio ?? defaultErrorRatio) ? Number.NaN : value;
  }
}
