/** Messages as bytes -> samples and fault reports to take in, and rejects with their places. */

import { setImmediate as breathe } from 'node:timers/promises';
import {
  type DecodedMessage,
  decodeFaultMessage,
  decodeSampleMessage,
  type LeftOut,
  type TelemetryReceipt,
} from '@warmbrick/contracts';
import type { FaultReport, SampleBlock } from '@warmbrick/signals';
import { createFrameTails, type FrameTails } from './frame-tails.js';
import { framesToSamples } from './frames-to-samples.js';
import { createRejectList, type RejectList } from './reject-list.js';
import type { MessagePiece } from './split-messages.js';

export interface ReadMessages {
  readonly blocks: SampleBlock[];
  readonly reports: FaultReport[];
  readonly rejects: RejectList;
  readonly droppedValues: { -readonly [K in keyof TelemetryReceipt['droppedValues']]: number };
}

/** Bytes decoded before others get a turn. Source: engineering judgement: a few milliseconds. */
const bytesPerTurn = 256 * 1024;

/**
 * Reads messages of one kind that arrived at a time in UTC epoch ms.
 *
 * Errors: none; what cannot be taken is a reject.
 */
export async function readMessages(
  kind: 'samples' | 'faults',
  messages: Iterable<MessagePiece>,
  arrivalMs: number,
): Promise<ReadMessages> {
  const read = emptyReading();
  const tails = createFrameTails();
  let turnBytes = 0;
  for (const message of messages) {
    if (kind === 'samples')
      addSamples(read, message, { decoded: decodeSampleMessage(message.payload, arrivalMs), tails });
    else addFaults(read, message, arrivalMs);
    turnBytes += message.payload.length;
    if (turnBytes < bytesPerTurn) continue;
    turnBytes = 0;
    await breathe();
  }
  return read;
}

/** A reading of nothing so far. */
export function emptyReading(): ReadMessages {
  const droppedValues = { unknownChannels: 0, notNumbers: 0, implausible: 0 };
  return { blocks: [], reports: [], rejects: createRejectList(), droppedValues };
}

interface Decoded {
  readonly decoded: DecodedMessage;
  readonly tails: FrameTails;
}

function addSamples(read: ReadMessages, { where }: MessagePiece, { decoded: message, tails }: Decoded): void {
  if (message.form === 'reject') {
    read.rejects.add({ reason: message.reason, where, detail: message.detail });
    return;
  }
  addLeftOut(read, where, message);
  if (message.form === 'samples') {
    read.blocks.push(message.block);
    read.droppedValues.unknownChannels += message.counts.unknownChannels;
    read.droppedValues.notNumbers += message.counts.notNumbers;
    read.droppedValues.implausible += message.counts.implausible;
    return;
  }
  if (message.unusable > 0) {
    const detail = `${message.unusable} frames without a usable identifier or payload`;
    read.rejects.add({ reason: 'bad-frame', where, detail });
  }
  const { block, reports, isBrokenOff } = framesToSamples(message, tails);
  if (block !== null) read.blocks.push(block);
  read.reports.push(...reports);
  if (block === null && reports.length === 0 && !isBrokenOff) {
    read.rejects.add({
      reason: 'no-channels',
      where,
      detail: 'frames: none of them carries a known channel or a fault',
    });
  }
}

function addLeftOut(read: ReadMessages, where: string, { leftOut }: { leftOut: readonly LeftOut[] }): void {
  for (const { reason, count } of leftOut) {
    const which = reason === 'future-time' ? 'more than an hour after the arrival' : 'without a usable time';
    read.rejects.add({ reason, where, detail: `${count} of its samples or frames, ${which}` });
  }
}

function addFaults(read: ReadMessages, { where, payload }: MessagePiece, arrivalMs: number): void {
  const message = decodeFaultMessage(payload, arrivalMs);
  if (message.form === 'faults') read.reports.push(message.report);
  else read.rejects.add({ reason: message.reason, where, detail: message.detail });
}
