/** The telematics gateway: when it is awake, what it loses, and which sensors lie. */

import type { SimulatedChannel } from './machine-body.js';
import { seedFrom } from './random.js';

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
 * share of the samples.
 */
export interface SensorFault {
  readonly channel: SimulatedChannel;
  readonly kind: 'missing' | 'stuck' | 'error';
  /** Seconds from the start of the simulation. Defaults: from the start, for ever. */
  readonly fromS?: number;
  readonly toS?: number;
  /** Share of samples without a value, for `error`. Default 0.4. */
  readonly ratio?: number;
}

const defaultErrorRatio = 0.4;

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
  for (const fault of faults) byChannel.set(fault.channel, [...(byChannel.get(fault.channel) ?? []), fault]);
  return {
    /** The value that the gateway gets instead of the true one. */
    read(channel: SimulatedChannel, value: number, sinceStartS: number): number {
      let seen = value;
      for (const fault of byChannel.get(channel) ?? []) {
        const isActive = sinceStartS >= (fault.fromS ?? 0) && sinceStartS < (fault.toS ?? Number.POSITIVE_INFINITY);
        if (isActive) seen = apply(fault, seen, sinceStartS);
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
    const draw = seedFrom(seed, fault.channel, sinceStartS) / 0x1_0000_0000;
    return draw < (fault.ratio ?? defaultErrorRatio) ? Number.NaN : value;
  }
}
