/** Frames of a machine's CAN buses in; samples on a steady grid and fault reports out. */

import { type Channel, channelNames, channels, type FaultReport, quantise, type SampleBlock } from '@warmbrick/signals';
import { pgnOfId } from './can-id.js';
import { groupPlans, type UnusableReason } from './channel-plan.js';
import { FaultLog } from './fault-log.js';
import { LatestValues } from './latest-values.js';
import { SampleRows } from './sample-rows.js';
import { connectionPgn, createTransportAssembler, packetPgn } from './transport.js';

export interface CanDecoderOptions {
  readonly machineId: string;
  /** Step of the sample grid in ms; a whole number from 1 to 3600000. */
  readonly gridMs?: number;
}

export interface CanDecoder {
  /**
   * Takes one frame: its UTC epoch time in ms, the name of its CAN channel, the 29-bit identifier and the payload (the
   * first `length` bytes of `data`, which may be reused after the call).
   *
   * Frames come in order of time. One that is out of order still counts when its grid tick is open, except for fields on
   * which its source has said something newer; one whose tick is finished is dropped and counted in `lateFrames`.
   */
  push(timeMs: number, bus: string, id: number, data: Uint8Array, length: number): void;
  /** The samples finished since the last call, or null. */
  takeBlock(): SampleBlock | null;
  /** The fault reports since the last call. */
  takeFaults(): FaultReport[];
  /** End of input: finishes the open tick and gives up open transfers. */
  finish(): void;
  /** How many received values of each channel were not usable, by reason, over all sources. */
  readonly unusable: Record<string, Partial<Record<UnusableReason, number>>>;
  /** Transfers of the transport protocol that were announced and gave no message. */
  readonly incompleteTransfers: number;
  /** Frames pushed. */
  readonly frames: number;
  /** Frames dropped because their tick was finished or their time is not one a Date can hold. */
  readonly lateFrames: number;
}

/** Default step of the sample grid, ms. Source: design decision. */
const defaultGridMs = 1000;
/** Longest step of the grid, ms. Source: design decision. */
const maxGridMs = 3_600_000;
/** Largest time either side of the epoch, ms: that of a Date. Source: ECMA-262, "Time Values and Time Range". */
const maxTimeMs = 8.64e15;
/** Group numbers of the fault messages. Source: SAE J1939-73, DM1 and DM2. */
const activeFaultsPgn = 65226;
const previousFaultsPgn = 65227;

// Routes by group number: 0 nobody wants it, then the fixed ones, then a plan each.
const route = { none: 0, connection: 1, packet: 2, activeFaults: 3, previousFaults: 4, firstPlan: 5 } as const;
const routeByPgn = buildRoutes();

/**
 * Creates the decoder of one machine.
 *
 * Grid: ticks are the multiples of `gridMs` since the epoch. The sample of tick t carries, for each channel, the last
 * usable value received in (t - holdS, t], holdS from the channel catalogue, rounded to the channel's resolution. A
 * source's latest word counts: "not available", "error", a reserved value, a known placeholder or an implausible value
 * takes its earlier value away at once. Between sources the channel's first SPN wins, and within it the preferred address
 * (0, 61, 85, 163, 81, 82, then by number), as far as they have a usable and fresh value.
 * No frame at all in (t - gridMs, t], no sample: a silent bus is a gap. No usable value, no sample either. `finish` gives
 * the open tick, the first at or after the last frame, so that a recording shorter than a step still gives one.
 *
 * Shapes: blocks rise strictly, also from one block to the next; a channel without a value in a block is left out of it.
 * Errors: RangeError for a grid step out of range; no frame, whatever it holds, throws.
 * Source: SAE J1939-21, -71, -73; see the README for the placeholders and limits.
 */
export function createCanDecoder(options: CanDecoderOptions): CanDecoder {
  const gridMs = options.gridMs ?? defaultGridMs;
  if (!Number.isInteger(gridMs) || gridMs < 1 || gridMs > maxGridMs) {
    throw new RangeError(`gridMs is ${gridMs}; expected a whole number of milliseconds from 1 to ${maxGridMs}`);
  }
  return new Decoder(options.machineId, gridMs);
}

class Decoder implements CanDecoder {
  frames = 0;
  lateFrames = 0;
  readonly #machineId: string;
  readonly #gridMs: number;
  readonly #latest = new LatestValues();
  readonly #rows = new SampleRows();
  readonly #faults: FaultLog;
  readonly #transport = createTransportAssembler();
  readonly #sample = new Float64Array(channelNames.length);
  /** The tick that frames are collected for; NaN before the first frame. */
  #openTickMs = Number.NaN;
  #lastTickMs = Number.NEGATIVE_INFINITY;

  constructor(machineId: string, gridMs: number) {
    this.#machineId = machineId;
    this.#gridMs = gridMs;
    this.#faults = new FaultLog(machineId);
  }

  push(timeMs: number, bus: string, id: number, data: Uint8Array, length: number): void {
    this.frames++;
    if (!(timeMs <= this.#openTickMs && timeMs > this.#openTickMs - this.#gridMs) && !this.#openTickFor(timeMs)) {
      this.lateFrames++;
      return;
    }
    const target = routeByPgn[pgnOfId(id)] as number;
    if (target === route.none) return;
    const usable = Math.max(0, Math.min(Math.trunc(length) || 0, data.length));
    if (target === route.connection || target === route.packet) {
      const message = this.#transport.push(timeMs, bus, id, data, usable);
      if (!message) return;
      this.#deliver(message.pgn, message.sourceAddress, timeMs, message.payload);
    } else if (target >= route.firstPlan) {
      this.#latest.take(target - route.firstPlan, id & 0xff, timeMs, data, usable);
    } else {
      this.#deliver(pgnOfId(id), id & 0xff, timeMs, data.subarray(0, usable));
    }
  }

  takeBlock(): SampleBlock | null {
    return this.#rows.take(this.#machineId);
  }

  takeFaults(): FaultReport[] {
    return this.#faults.drain();
  }

  finish(): void {
    this.#finishTick();
    this.#transport.finish();
  }

  get incompleteTransfers(): number {
    return this.#transport.incomplete;
  }

  get unusable(): Record<string, Partial<Record<UnusableReason, number>>> {
    const byChannel: Record<string, Partial<Record<UnusableReason, number>>> = {};
    for (const [c, name] of channelNames.entries()) {
      const counts = this.#latest.unusableOf(c);
      if (counts) byChannel[name] = counts;
    }
    return byChannel;
  }

  #deliver(pgn: number, sourceAddress: number, timeMs: number, payload: Uint8Array): void {
    const target = routeByPgn[pgn] as number;
    if (target === route.activeFaults) this.#faults.take(timeMs, 'active', sourceAddress, payload);
    else if (target === route.previousFaults) this.#faults.take(timeMs, 'previously-active', sourceAddress, payload);
    else if (target >= route.firstPlan) {
      this.#latest.take(target - route.firstPlan, sourceAddress, timeMs, payload, payload.length);
    }
  }

  /** Moves on to the tick of a frame; false when that tick is finished already, or the time is no time. */
  #openTickFor(timeMs: number): boolean {
    const tickMs = Math.ceil(timeMs / this.#gridMs) * this.#gridMs;
    const floorMs = Number.isNaN(this.#openTickMs) ? this.#lastTickMs : this.#openTickMs;
    if (!(Math.abs(timeMs) <= maxTimeMs) || tickMs <= floorMs) return false;
    this.#finishTick();
    this.#openTickMs = tickMs;
    return true;
  }

  #finishTick(): void {
    const tickMs = this.#openTickMs;
    if (Number.isNaN(tickMs)) return;
    this.#openTickMs = Number.NaN;
    this.#lastTickMs = tickMs;
    let hasValue = false;
    for (let c = 0; c < channelNames.length; c++) {
      const name = channelNames[c] as (typeof channelNames)[number];
      const afterMs = tickMs - (channels[name] as Channel).holdS * 1000;
      const best = this.#latest.best(c, afterMs);
      const value = best === best ? quantise(name, best) : best;
      this.#sample[c] = value;
      if (value === value) hasValue = true;
    }
    if (hasValue) this.#rows.add(tickMs, this.#sample);
  }
}

function buildRoutes(): Uint8Array {
  const routes = new Uint8Array(2 ** 18);
  routes[connectionPgn] = route.connection;
  routes[packetPgn] = route.packet;
  routes[activeFaultsPgn] = route.activeFaults;
  routes[previousFaultsPgn] = route.previousFaults;
  for (const [index, plan] of groupPlans.entries()) routes[plan.pgn] = route.firstPlan + index;
  return routes;
}
