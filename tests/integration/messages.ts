/** Sample blocks as messages, and a shuffle that a seed repeats. */

import { blockChannels, type Column, type SampleBlock } from '@warmbrick/signals';
import type { OutMessage } from './ingest-world.js';

const orNull = (value: number | undefined) => (value === undefined || Number.isNaN(value) ? null : value);

/** A block as one packet. */
export function packetMessage(topic: string, block: SampleBlock): OutMessage {
  const channels = Object.fromEntries(
    blockChannels(block).map((name) => [name, Array.from(block.channels[name] as Column, orNull)]),
  );
  const value = JSON.stringify({ machineId: block.machineId, times: Array.from(block.timeMs), channels });
  return { topic, key: block.machineId, value };
}

/** A block as one message a sample. */
export function singleMessages(topic: string, block: SampleBlock): OutMessage[] {
  const names = blockChannels(block);
  return Array.from(block.timeMs, (time, i) => {
    const values = Object.fromEntries(names.map((name) => [name, orNull(block.channels[name]?.[i])]));
    return { topic, key: block.machineId, value: JSON.stringify({ machineId: block.machineId, time, values }) };
  });
}

/** Random numbers in [0, 1) that a seed repeats. Source: mulberry32, public domain, by T. Ettinger. */
export function randomFrom(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let mixed = Math.imul(state ^ (state >>> 15), state | 1);
    mixed ^= mixed + Math.imul(mixed ^ (mixed >>> 7), mixed | 61);
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 4_294_967_296;
  };
}

/** The items in another order. */
export function shuffled<T>(items: readonly T[], seed: number): T[] {
  const random = randomFrom(seed);
  const order = [...items];
  for (let i = order.length - 1; i > 0; i--) {
    const j = Math.floor(random() * (i + 1));
    [order[i], order[j]] = [order[j] as T, order[i] as T];
  }
  return order;
}
