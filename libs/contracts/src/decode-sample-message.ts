/** Messages of the samples topic -> sample blocks or CAN frames. Anything else is a reject with a reason, never an error. */

import {
  type ChannelName,
  type Column,
  createColumn,
  isChannelName,
  isWideChannel,
  mergeBlocks,
  quantise,
  quantiseColumn,
  type SampleBlock,
} from '@warmbrick/signals';
import { type DecodedFrames, decodeFrames } from './decode-frames.js';
import {
  isRecord,
  judgeTime,
  type LeftOut,
  listLeftOut,
  openMessage,
  type RejectedMessage,
  readMessageTime,
  reject,
  rejectTooMany,
} from './message-checks.js';
import { messageTimeMs } from './message-time.js';
import { scanPacket } from './scan-packet.js';
import { messageLimits } from './topics.js';

/** What became of the values of a message. */
export interface ValueCounts {
  /** Columns of a name that the catalogue does not know. */
  readonly unknownChannels: number;
  /** Nulls: the sender says that there is no value. */
  readonly missing: number;
  /** Texts, booleans and the like in the place of a number. */
  readonly notNumbers: number;
  /** Numbers outside the channel's valid range. */
  readonly implausible: number;
}

export interface DecodedSamples {
  readonly form: 'samples';
  readonly block: SampleBlock;
  readonly counts: ValueCounts;
  readonly leftOut: readonly LeftOut[];
}

export type DecodedMessage = DecodedSamples | DecodedFrames | RejectedMessage;

type Fields = Readonly<Record<string, unknown>>;
type Counting = { -readonly [K in keyof ValueCounts]: ValueCounts[K] };

/**
 * Decodes one message of the samples topic, given when it arrived in UTC epoch ms.
 *
 * Shapes: one sample, a packet of columns, or CAN frames, as `samplesMessageSchema` has them; but a value that is no number
 * costs that value alone, and of `values`, `channels` and `frames` the first counts. Unknown properties and channels are
 * passed over. The block rises strictly: samples out of order are sorted, samples of one time joined.
 * Missing: null, an implausible number and a value that is no number give NaN and are counted.
 * Range: times from 2000 to an hour after the arrival; samples outside are left out and counted, and the message is a
 * reject when none is left.
 * Errors: none, whatever the bytes are.
 */
export function decodeSampleMessage(payload: Uint8Array, arrivalMs: number): DecodedMessage {
  return scanPacket(payload, arrivalMs) ?? parseSampleMessage(payload, arrivalMs);
}

/** The same without the fast way of usual packets. */
export function parseSampleMessage(payload: Uint8Array, arrivalMs: number): DecodedMessage {
  const opened = openMessage(payload);
  if (opened.form === 'reject') return opened;
  const { machineId, fields } = opened;
  if (fields.values !== undefined) return decodeSingle(machineId, fields, arrivalMs);
  if (fields.channels !== undefined) return decodePacket(machineId, fields, arrivalMs);
  if (fields.frames !== undefined) return decodeFrames(machineId, fields, arrivalMs);
  return reject('unknown-form', 'expected one of values, channels or frames');
}

function decodeSingle(machineId: string, fields: Fields, arrivalMs: number): DecodedMessage {
  const { values } = fields;
  if (!isRecord(values)) return reject('bad-shape', 'values: expected an object of channel to number');
  const timeMs = readMessageTime(fields.time, arrivalMs);
  if (typeof timeMs !== 'number') return timeMs;
  const names = Object.keys(values);
  if (names.length > messageLimits.channels) return rejectTooMany(names.length, 'channels', messageLimits.channels);
  const columns: Partial<Record<ChannelName, Column>> = {};
  const counts = createCounts();
  for (const name of names) {
    if (!isChannelName(name)) counts.unknownChannels++;
    else columns[name] = readValue(name, values[name], counts);
  }
  if (counts.unknownChannels === names.length) return reject('no-channels', 'values: holds no known channel');
  const block = { machineId, timeMs: Float64Array.of(timeMs), channels: columns };
  return { form: 'samples', block, counts, leftOut: [] };
}

/** The same as `readColumn` for one value; made without its loops, as single samples come in great numbers. */
function readValue(name: ChannelName, value: unknown, counts: Counting): Column {
  const column = isWideChannel(name) ? new Float64Array(1) : new Float32Array(1);
  column[0] = typeof value === 'number' ? value : Number.NaN;
  const stored = quantise(name, column[0] as number);
  if (stored !== stored) {
    if (typeof value === 'number') counts.implausible++;
    else if (value === null) counts.missing++;
    else counts.notNumbers++;
  }
  column[0] = stored;
  return column;
}

function decodePacket(machineId: string, fields: Fields, arrivalMs: number): DecodedMessage {
  const { times, channels } = fields;
  if (!Array.isArray(times) || times.length === 0) return reject('bad-shape', 'times: expected an array of times');
  if (!isRecord(channels)) return reject('bad-shape', 'channels: expected an object of channel to array');
  if (times.length > messageLimits.samples) return rejectTooMany(times.length, 'samples', messageLimits.samples);
  const names = Object.keys(channels);
  if (names.length > messageLimits.channels) return rejectTooMany(names.length, 'channels', messageLimits.channels);
  const axis = readTimes(times, arrivalMs);
  const columns: Partial<Record<ChannelName, Column>> = {};
  const counts = createCounts();
  for (const name of names) {
    const column = channels[name];
    if (!Array.isArray(column) || column.length !== times.length) {
      return reject('bad-shape', `channels.${name.slice(0, 40)}: expected an array of ${times.length} values`);
    }
    if (!isChannelName(name)) counts.unknownChannels++;
    else columns[name] = readColumn(name, column, { axis, counts });
  }
  if (counts.unknownChannels === names.length) return reject('no-channels', 'channels: holds no known channel');
  const worst = axis.leftOut[0];
  if (axis.kept.length === 0 && worst !== undefined) return reject(worst.reason, 'times: none of them is usable');
  const block = { machineId, timeMs: axis.timeMs, channels: columns };
  const inOrder = axis.isRising ? block : mergeBlocks(machineId, [block]).block;
  return { form: 'samples', block: inOrder, counts, leftOut: axis.leftOut };
}

interface Axis {
  readonly timeMs: Float64Array;
  /** Positions in the message of the times that are kept. */
  readonly kept: Uint16Array;
  readonly isRising: boolean;
  readonly leftOut: readonly LeftOut[];
}

function readTimes(times: readonly unknown[], arrivalMs: number): Axis {
  const length = times.length;
  const timeMs = new Float64Array(length);
  const kept = new Uint16Array(length);
  const outside = { 'bad-time': 0, 'future-time': 0 };
  let count = 0;
  let isRising = true;
  for (let i = 0; i < length; i++) {
    const atMs = messageTimeMs(times[i]);
    const reason = judgeTime(atMs, arrivalMs);
    if (reason !== null) {
      outside[reason]++;
      continue;
    }
    if (count > 0 && atMs <= (timeMs[count - 1] as number)) isRising = false;
    timeMs[count] = atMs;
    kept[count++] = i;
  }
  const leftOut = listLeftOut(outside['bad-time'], outside['future-time']);
  return { timeMs: timeMs.subarray(0, count), kept: kept.subarray(0, count), isRising, leftOut };
}

function readColumn(name: ChannelName, values: readonly unknown[], to: { axis: Axis; counts: Counting }): Column {
  const { kept } = to.axis;
  const length = kept.length;
  const column = createColumn(name, length);
  let missing = 0;
  let notNumbers = 0;
  for (let i = 0; i < length; i++) {
    const value = values[kept[i] as number];
    if (typeof value === 'number') column[i] = value;
    else if (value === null) missing++;
    else notNumbers++;
  }
  to.counts.missing += missing;
  to.counts.notNumbers += notNumbers;
  to.counts.implausible += quantiseColumn(name, column);
  return column;
}

function createCounts(): Counting {
  return { unknownChannels: 0, missing: 0, notNumbers: 0, implausible: 0 };
}
