/** One payload to all the signals it carries: for inspection, conformance checks and reports. */

import { type RawStatus, rawStatus, readBits } from './raw-status.js';
import { type Signal, signals } from './signal-table.js';

export interface DecodedSignal {
  readonly spn: number;
  /** Physical value; null unless the status is 'valid'. */
  readonly value: number | null;
  readonly status: RawStatus;
  readonly raw: number;
}

const signalsByPgn: ReadonlyMap<number, readonly Signal[]> = groupByPgn(signals);

/**
 * Decodes the known signals of one message.
 *
 * Shapes: `data` is the whole payload, 8 bytes or what the transport protocol put together.
 * Units: those of `signals`.
 * Missing: a signal that does not lie wholly inside the payload is left out; an unknown PGN gives an empty list.
 * Source: SAE J1939-71 (2012); see `signals` and `rawStatus`. Values that are valid on the wire and yet no measurement
 * (a sensor that is off) stay as they are here; the decoder of channels drops them.
 */
export function decodeSignals(pgn: number, data: Uint8Array): DecodedSignal[] {
  const decoded: DecodedSignal[] = [];
  for (const signal of signalsByPgn.get(pgn) ?? []) {
    if (signal.startBit + signal.bits > data.length * 8) continue;
    const raw = readBits(data, signal.startBit, signal.bits);
    const status = signalStatus(signal, raw);
    const value = status === 'valid' ? raw * signal.scale + signal.offset : null;
    decoded.push({ spn: signal.spn, value, status, raw });
  }
  return decoded;
}

/** Status of a raw value: the signal's own list first, then the rule of its length. */
export function signalStatus(signal: Signal, raw: number): RawStatus {
  return signal.listed[raw] ?? rawStatus(signal.bits, raw);
}

function groupByPgn(all: readonly Signal[]): Map<number, Signal[]> {
  const groups = new Map<number, Signal[]>();
  for (const signal of all) {
    const group = groups.get(signal.pgn);
    if (group) group.push(signal);
    else groups.set(signal.pgn, [signal]);
  }
  return groups;
}
