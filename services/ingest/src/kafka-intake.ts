/** Intake through topics: everything becomes messages of `libs/contracts`, keyed by machine. */

import { type FaultMessage, type PacketMessage, type TopicName, toInstant, topics } from '@warmbrick/contracts';
import { blockChannels, type Column, type FaultReport, mergeBlocks, type SampleBlock } from '@warmbrick/signals';
import type { Intake } from './intake.js';

export interface ProducedMessage {
  readonly key: string;
  readonly value: string;
}

/** Sends messages to a topic; resolves when all of them are acknowledged by every in-sync replica. */
export type Produce = (topic: TopicName, messages: readonly ProducedMessage[]) => Promise<void>;

/** Values of one packet at most: about half a megabyte of JSON, below the brokers' usual limit of one. Source: engineering judgement. */
const valuesPerPacket = 40_000;
/** Source: `messageLimits.samples` of the contract is 10 000; shorter packets share a topic better. */
const samplesPerPacket = 3600;
/** Messages handed over at once. Source: engineering judgement. */
const messagesPerLot = 50;

/**
 * Makes the intake of a process that only passes on.
 *
 * Samples of one machine in one call are joined, so that single samples become packets.
 * Errors: those of `produce`; a call that fails half-way may have sent a part, which does no harm.
 */
export function kafkaIntake(produce: Produce): Intake {
  return {
    settles: 'produced',
    async samples(blocks) {
      await sendAll(produce, topics.samples, packetsOf(blocks));
    },
    async faults(reports) {
      await sendAll(produce, topics.faults, reports.map(faultMessage));
    },
  };
}

async function sendAll(produce: Produce, topic: TopicName, messages: Iterable<ProducedMessage>): Promise<void> {
  let lot: ProducedMessage[] = [];
  for (const message of messages) {
    lot.push(message);
    if (lot.length < messagesPerLot) continue;
    await produce(topic, lot);
    lot = [];
  }
  if (lot.length > 0) await produce(topic, lot);
}

function* packetsOf(blocks: readonly SampleBlock[]): Generator<ProducedMessage> {
  const byMachine = new Map<string, SampleBlock[]>();
  for (const block of blocks) {
    const own = byMachine.get(block.machineId);
    if (own === undefined) byMachine.set(block.machineId, [block]);
    else own.push(block);
  }
  for (const [machineId, own] of byMachine) {
    const block = own.length === 1 ? (own[0] as SampleBlock) : mergeBlocks(machineId, own).block;
    const width = Math.max(1, blockChannels(block).length);
    const step = Math.max(1, Math.min(samplesPerPacket, Math.floor(valuesPerPacket / width)));
    for (let from = 0; from < block.timeMs.length; from += step) yield packetMessage(block, from, from + step);
  }
}

/** Times as epoch milliseconds; numbers as they are, which the receiver's rounding leaves as they are. */
function packetMessage(block: SampleBlock, from: number, to: number): ProducedMessage {
  const channels: Record<string, (number | null)[]> = {};
  for (const name of blockChannels(block)) {
    channels[name] = Array.from((block.channels[name] as Column).subarray(from, to), orNull);
  }
  const message: PacketMessage = {
    machineId: block.machineId,
    times: Array.from(block.timeMs.subarray(from, to)),
    channels,
  };
  return { key: block.machineId, value: JSON.stringify(message) };
}

function orNull(value: number): number | null {
  return Number.isNaN(value) ? null : value;
}

function faultMessage({ timeMs, ...report }: FaultReport): ProducedMessage {
  const message: FaultMessage = {
    ...report,
    time: toInstant(timeMs),
    codes: report.codes.map((code) => ({ ...code })),
  };
  return { key: report.machineId, value: JSON.stringify(message) };
}
