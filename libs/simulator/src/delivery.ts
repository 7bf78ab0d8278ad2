/** How samples travel: in packets that can be late, repeated and out of order. */

import { type SampleBlock, sliceBlock } from '@warmbrick/signals';
import { createRandom, seedFrom } from './random.js';

export interface DeliveryFaults {
  /** Length of the packets, s, cut at whole multiples of it. Default 60. */
  readonly packetS?: number;
  /** Delay of a packet: from none up to this, s. More than `packetS` puts packets out of order. Default 0. */
  readonly latencyS?: number;
  /** Share of the packets that arrive twice, the second time with a delay of its own. Default 0. */
  readonly duplicateRatio?: number;
  /** Stretches without radio coverage: what was sampled in them arrives from their end on. */
  readonly outages?: readonly { readonly fromMs: number; readonly toMs: number }[];
  /** The gateway's clock; default: right. */
  readonly clock?: ClockDrift;
}

/** A clock that goes wrong and is set from time to time. What arrives carries its times; outages and latency are real. */
export interface ClockDrift {
  /** Milliseconds that it gains in each second that really passes; below nought it loses. A quartz: up to 0.1. */
  readonly gainMsPerS: number;
  /** From when it goes wrong. */
  readonly fromMs: number;
  /** When it is set right, in order; a clock that was fast then jumps back, and its times overlap. Default: never. */
  readonly setAtMs?: readonly number[];
}

/** Most that a clock gains or loses, ms/s, so that its times still rise. Source: design decision. */
const fastestGainMsPerS = 500;

export interface Packet {
  readonly arrivesMs: number;
  readonly block: SampleBlock;
}

/**
 * Packets of a block in the order of their arrival.
 *
 * Range: what happens to a packet hangs on its own time and the seed alone, so a block may be handed over in pieces cut
 * at whole packets. Nothing is lost; packets share memory with the block. A packet ends where the clock is set, so times
 * always rise within one.
 */
export function deliver(block: SampleBlock, faults: DeliveryFaults, seed: number): Packet[] {
  const packetMs = Math.max(1, Math.round(faults.packetS ?? 60)) * 1000;
  const packets: Packet[] = [];
  let from = 0;
  while (from < block.timeMs.length) {
    const slot = Math.floor((block.timeMs[from] as number) / packetMs);
    const setMs = lastSetMs(block.timeMs[from] as number, faults.clock);
    let to = from + 1;
    while (to < block.timeMs.length && Math.floor((block.timeMs[to] as number) / packetMs) === slot) {
      if (lastSetMs(block.timeMs[to] as number, faults.clock) !== setMs) break;
      to++;
    }
    const piece = byItsClock(sliceBlock(block, from, to), setMs, faults.clock);
    const random = createRandom(seedFrom(seed, block.machineId, slot));
    const readyMs = uncoveredUntilMs(block.timeMs[to - 1] as number, faults);
    const latencyMs = (faults.latencyS ?? 0) * 1000;
    packets.push({ arrivesMs: readyMs + Math.round(latencyMs * random.next()), block: piece });
    if (random.next() < (faults.duplicateRatio ?? 0)) {
      packets.push({ arrivesMs: readyMs + Math.round(packetMs + latencyMs * random.next()), block: piece });
    }
    from = to;
  }
  return packets.sort((a, b) => a.arrivesMs - b.arrivesMs);
}

function uncoveredUntilMs(timeMs: number, faults: DeliveryFaults): number {
  for (const outage of faults.outages ?? []) if (timeMs >= outage.fromMs && timeMs < outage.toMs) return outage.toMs;
  return timeMs;
}

/** When the clock was last right; null while it goes right. */
function lastSetMs(timeMs: number, clock: ClockDrift | undefined): number | null {
  if (clock === undefined || timeMs < clock.fromMs) return null;
  let setMs = clock.fromMs;
  for (const at of clock.setAtMs ?? []) if (at > setMs && at <= timeMs) setMs = at;
  return setMs;
}

function byItsClock(block: SampleBlock, setMs: number | null, clock: ClockDrift | undefined): SampleBlock {
  if (clock === undefined || setMs === null) return block;
  const gain = Math.max(-fastestGainMsPerS, Math.min(fastestGainMsPerS, clock.gainMsPerS)) / 1000;
  return { ...block, timeMs: block.timeMs.map((timeMs) => Math.round(timeMs + gain * (timeMs - setMs))) };
}
