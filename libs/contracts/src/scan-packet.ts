/**
 * The fast way to read a packet: its bytes go into columns directly, with no text and no objects in between. It knows the
 * usual form only (machine, times, channels in this order; whole milliseconds that rise; known channels; plain numbers and
 * nulls) and leaves everything else, wrong or merely unusual, to the slow way, which decides alone what is rejected. So
 * both say the same of every message that both read.
 */

import { type ChannelName, type Column, channelNames, isWideChannel, quantiseColumn } from '@warmbrick/signals';
import type { DecodedSamples } from './decode-sample-message.js';
import { judgeTime } from './message-checks.js';
import { messageLimits } from './topics.js';

/** Where the scanner stands; one for all messages, as they are read one after the other. */
const noBytes = new Uint8Array(0);
const scan: { bytes: Uint8Array; at: number; missing: number } = { bytes: noBytes, at: 0, missing: 0 };
const times = new Float64Array(messageLimits.samples);
/** Digits that a double holds for certain. Source: IEEE 754, binary64. */
const mostDigits = 15;
/** Powers of ten up to it are exact, so that one division rounds as reading the text does. */
const powersOfTen = Array.from({ length: mostDigits + 1 }, (_, exponent) => 10 ** exponent);
/** Digits of any number that 32 bits hold. */
const mostSmallDigits = 9;
const longestMachineId = 100;

const [space, quote, comma, minus, point, zero] = [32, 34, 44, 45, 46, 48];
/** A point where a digit is looked for. */
const pointDigit = (point - zero) >>> 0;
const [colon, openList, backslash, closeList, letterN, open, close] = [58, 91, 92, 93, 110, 123, 125];

const machineKey = ascii('"machineId"');
const timesKey = ascii('"times"');
const channelsKey = ascii('"channels"');
const nullWord = ascii('null');

/**
 * Reads a packet of the usual form that arrived at `arrivalMs`; null leaves it to the slow way.
 *
 * Shapes: as those of `decodeSampleMessage`; columns of several messages may share memory.
 */
export function scanPacket(payload: Uint8Array, arrivalMs: number): DecodedSamples | null {
  const { length } = payload;
  // A bracket at the end stops every loop below, so none of them looks for the end.
  if (length > messageLimits.bytes || payload[0] !== open || payload[length - 1] !== close) return null;
  scan.bytes = payload;
  scan.at = 1;
  scan.missing = 0;
  const packet = readPacket(arrivalMs);
  scan.bytes = noBytes;
  return packet;
}

function readPacket(arrivalMs: number): DecodedSamples | null {
  if (!takeKey(machineKey)) return null;
  const machineId = readMachineId();
  if (machineId === null || !take(comma) || !takeKey(timesKey)) return null;
  const count = readTimes(arrivalMs);
  if (count === 0 || !take(comma) || !takeKey(channelsKey) || !take(open)) return null;
  const columns: Partial<Record<ChannelName, Column>> = {};
  let implausible = 0;
  do {
    const name = readChannelName();
    // Of two columns of a name, the slow way takes the later.
    if (name === null || columns[name] !== undefined || !take(colon)) return null;
    const column = createSlabColumn(isWideChannel(name), count);
    if (!readColumn(column)) return null;
    columns[name] = column;
    implausible += quantiseColumn(name, column);
  } while (take(comma));
  if (!take(close) || !take(close) || scan.at !== scan.bytes.length) return null;
  const timeMs = createSlabColumn(true, count) as Float64Array;
  timeMs.set(times.subarray(0, count));
  return {
    form: 'samples',
    block: { machineId, timeMs, channels: columns },
    counts: { unknownChannels: 0, missing: scan.missing, notNumbers: 0, implausible },
    leftOut: [],
  };
}

/** Passes white space. */
function passSpace(): void {
  const { bytes } = scan;
  let { at } = scan;
  for (let byte = bytes[at] as number; byte === space || byte === 10 || byte === 13 || byte === 9; ) {
    byte = bytes[++at] as number;
  }
  scan.at = at;
}

/** Passes a sign, with white space around it; false when it is not there. */
function take(sign: number): boolean {
  passSpace();
  if (scan.bytes[scan.at] !== sign) return false;
  scan.at++;
  passSpace();
  return true;
}

function takeWord(word: Uint8Array): boolean {
  const { bytes, at } = scan;
  for (let i = 0; i < word.length; i++) if (bytes[at + i] !== word[i]) return false;
  scan.at = at + word.length;
  return true;
}

function takeKey(key: Uint8Array): boolean {
  passSpace();
  return takeWord(key) && take(colon);
}

/** An id of printable ASCII without escapes; null for any other. */
function readMachineId(): string | null {
  const { bytes } = scan;
  if (bytes[scan.at] !== quote) return null;
  const from = scan.at + 1;
  let to = from;
  for (; bytes[to] !== quote; to++) {
    const byte = bytes[to] as number;
    if (!(byte >= space && byte <= 126) || byte === backslash || to - from >= longestMachineId) return null;
  }
  if (to === from) return null;
  scan.at = to + 1;
  return String.fromCharCode(...bytes.subarray(from, to));
}

/** Fills `times` with a list of whole milliseconds that rise and are neither too early nor too late; 0 for any other. */
function readTimes(arrivalMs: number): number {
  if (!take(openList)) return 0;
  const { bytes } = scan;
  let { at } = scan;
  let count = 0;
  let lastMs = 0;
  for (;;) {
    const from = at;
    let timeMs = 0;
    for (let digit = (bytes[at] as number) - zero; digit >= 0 && digit <= 9; digit = (bytes[at] as number) - zero) {
      timeMs = timeMs * 10 + digit;
      at++;
    }
    const isPlain = at > from && at - from <= mostDigits && bytes[from] !== zero;
    if (!isPlain || !(timeMs > lastMs) || count === times.length) return 0;
    times[count++] = timeMs;
    lastMs = timeMs;
    // White space between numbers is rare: first without.
    if (bytes[at] === comma && (bytes[at + 1] as number) > space) {
      at++;
      continue;
    }
    scan.at = at;
    if (!take(comma)) break;
    at = scan.at;
  }
  if (!take(closeList)) return 0;
  const isUsable = judgeTime(times[0] as number, arrivalMs) === null && judgeTime(lastMs, arrivalMs) === null;
  return isUsable ? count : 0;
}

/** Fills a column with a list of as many numbers and nulls; false when it is anything else. */
function readColumn(column: Column): boolean {
  if (!take(openList)) return false;
  const { bytes } = scan;
  const last = column.length - 1;
  let { at } = scan;
  for (let i = 0; i <= last; i++) {
    // The usual number first: few digits, a point among them at most. Whole numbers of 32 bits are added up fastest.
    const isNegative = bytes[at] === minus;
    const from = isNegative ? at + 1 : at;
    let to = from;
    let number = 0;
    let digit = ((bytes[to] as number) - zero) >>> 0;
    for (; digit < 10; digit = ((bytes[++to] as number) - zero) >>> 0) number = (Math.imul(number, 10) + digit) | 0;
    let whole = to - from;
    let decimals = 0;
    if (digit === pointDigit) {
      const pointAt = to++;
      digit = ((bytes[to] as number) - zero) >>> 0;
      for (; digit < 10; digit = ((bytes[++to] as number) - zero) >>> 0) number = (Math.imul(number, 10) + digit) | 0;
      decimals = to - pointAt - 1;
      // A point stands behind a digit and in front of one.
      if (decimals === 0) whole = 0;
    }
    if (whole === 0 || whole + decimals > mostSmallDigits) {
      scan.at = at;
      const value = readOtherValue(column);
      if (value === null) return false;
      column[i] = value;
      at = scan.at;
    } else {
      // A number has no zero in front of others.
      if (whole > 1 && bytes[from] === zero) return false;
      const value = decimals === 0 ? number : number / (powersOfTen[decimals] as number);
      column[i] = isNegative ? -value : value;
      at = to;
    }
    // White space between numbers is rare: first without.
    if (bytes[at] === comma && i < last) {
      if ((bytes[++at] as number) > space) continue;
      scan.at = at;
      passSpace();
    } else {
      scan.at = at;
      if (!take(i < last ? comma : closeList)) return false;
    }
    at = scan.at;
  }
  return true;
}

/** What stands where the scanner does, a null or a number of many digits, for a column; null when it is anything else. */
function readOtherValue(column: Column): number | null {
  const { bytes } = scan;
  let { at } = scan;
  let byte = bytes[at] as number;
  if (byte === letterN) {
    if (!takeWord(nullWord)) return null;
    scan.missing++;
    return Number.NaN;
  }
  const isNegative = byte === minus;
  if (isNegative) byte = bytes[++at] as number;
  const from = at;
  let number = 0;
  // At most `mostDigits` digits; the point takes a place of its own.
  let end = at + mostDigits;
  let pointAt = -1;
  for (; at < end; at++) {
    const digit = (byte - zero) >>> 0;
    if (digit < 10) number = number * 10 + digit;
    else if (byte === point && pointAt < 0 && at > from) {
      pointAt = at;
      end++;
    } else break;
    byte = bytes[at + 1] as number;
  }
  const digits = pointAt < 0 ? at - from : at - from - 1;
  // A number has no zero in front of others, and ends with a digit.
  const hasZero = bytes[from] === zero && digits > 1 && pointAt !== from + 1;
  if (digits === 0 || hasZero || bytes[at - 1] === point) return null;
  const scale = pointAt < 0 ? 1 : (powersOfTen[at - pointAt - 1] as number);
  const value = number / scale;
  if ((byte - zero) >>> 0 < 10) {
    // More digits lie between this number and the next one; mostly both are the same in the column.
    if (pointAt < 0 || Math.fround(value) !== Math.fround((number + 1) / scale)) return null;
    if (column instanceof Float64Array) return null;
    while ((byte - zero) >>> 0 < 10) byte = bytes[++at] as number;
  }
  scan.at = at;
  return isNegative ? -value : value;
}

/** Known channels by a hash of their names. */
const channelsByHash = new Map<number, { name: ChannelName; word: Uint8Array }>();
for (const name of channelNames) {
  const word = ascii(`"${name}"`);
  channelsByHash.set(hashOf(word, 0, word.length), { name, word });
}
if (channelsByHash.size !== channelNames.length) throw new Error('two channels share a hash: take another');

/** Longest name of a channel with its quotation marks, and room. */
const longestName = 60;

function readChannelName(): ChannelName | null {
  passSpace();
  const { bytes, at } = scan;
  if (bytes[at] !== quote) return null;
  let to = at + 1;
  while (bytes[to] !== quote && to - at < longestName && to < bytes.length) to++;
  const known = channelsByHash.get(hashOf(bytes, at, to + 1));
  return known !== undefined && takeWord(known.word) ? known.name : null;
}

/** 32-bit FNV-1a. Source: RFC 9923. */
function hashOf(bytes: Uint8Array, from: number, to: number): number {
  let hash = 0x811c9dc5;
  for (let i = from; i < to; i++) hash = Math.imul(hash ^ (bytes[i] as number), 0x01000193);
  return hash >>> 0;
}

/** Columns are cut from a larger piece of memory: to ask the system for each would take longer than to read it. */
const slabBytes = 64 * 1024;
let slab = new ArrayBuffer(slabBytes);
let slabAt = 0;

function createSlabColumn(isWide: boolean, length: number): Column {
  const size = Math.ceil((length * (isWide ? 8 : 4)) / 8) * 8;
  if (size > slabBytes / 4) return isWide ? new Float64Array(length) : new Float32Array(length);
  if (slabAt + size > slabBytes) {
    slab = new ArrayBuffer(slabBytes);
    slabAt = 0;
  }
  const from = slabAt;
  slabAt += size;
  return isWide ? new Float64Array(slab, from, length) : new Float32Array(slab, from, length);
}

function ascii(text: string): Uint8Array {
  return Uint8Array.from(text, (sign) => sign.charCodeAt(0));
}
