/** CAN logs -> samples on a grid and fault reports. */

import { type CanDecoder, createCanDecoder } from '@warmbrick/j1939';
import { blockChannels, type ChannelName, type Column, channelNames, type SampleBlock } from '@warmbrick/signals';
import type { ByteSource } from './byte-source.js';
import { createCanCsvParser, createCandumpParser, type FrameParser } from './parse-frame.js';
import { isUsableTime } from './parse-time.js';
import { longestLineBytes, readLines } from './read-lines.js';
import { countUnusable, fallbackMachineId, type Outlet, type ReadState, wantedChannels, warn } from './read-state.js';
import type { UnusableReason } from './recording.js';
import { noFrameColumns } from './recording-errors.js';
import type { SampleShelves } from './sample-shelves.js';

/** A first time below this is taken as relative to the start of the log, in ms: 1973. Source: engineering judgement. */
const relativeBelowMs = 100_000_000_000;
/** Frames between two looks at what the decoder has finished. */
const framesPerTake = 8192;

export interface CanTargets {
  readonly shelves: SampleShelves;
  readonly outlet: Outlet;
}

/**
 * Reads a candump log or a CSV of CAN frames of one machine.
 *
 * Units: relative times start at `startMs` of the options; times of the epoch stay.
 * Errors: `recording-no-frame` when a CSV lacks the columns of a frame; a bad line is a counted reject.
 */
export async function readCan(source: ByteSource, state: ReadState, targets: CanTargets): Promise<void> {
  const machineId = fallbackMachineId(source.origin, state.options);
  const { onlyMachineId, gridMs } = state.options;
  if (onlyMachineId !== undefined && onlyMachineId !== machineId) return;
  const decoder = createCanDecoder({ machineId, ...(gridMs === undefined ? {} : { gridMs }) });
  const take = createFrameTaker(source, state, decoder);
  const deliver = createDelivery(state, decoder, targets);
  let taken = 0;
  try {
    for await (const { firstLine, lines } of readLines(source.chunks)) {
      for (let i = 0; i < lines.length; i++) {
        take(lines[i] as string | null, firstLine + i);
        if (++taken % framesPerTake === 0) deliver();
      }
    }
  } finally {
    // What was read before a damage counts.
    decoder.finish();
    deliver();
    countDecoder(source, state, { machineId, decoder });
  }
}

function createFrameTaker(
  source: ByteSource,
  state: ReadState,
  decoder: CanDecoder,
): (line: string | null, lineNumber: number) => void {
  let parse: FrameParser | null = source.format === 'candump' ? createCandumpParser() : null;
  let startMs = Number.NaN;
  return (line, lineNumber) => {
    const where = (): string => `${source.name}, line ${lineNumber}`;
    if (line === null) return state.rejects.add('line-too-long', where(), `longer than ${longestLineBytes} bytes`);
    if (line.trim() === '') return;
    if (parse === null) {
      const made = createCanCsvParser(line);
      if (typeof made !== 'function') throw noFrameColumns(source.name, made);
      parse = made;
      return;
    }
    const frame = parse(line);
    if (typeof frame === 'string') return state.rejects.add('bad-frame', where(), frame);
    if (startMs !== startMs) startMs = frame.timeMs < relativeBelowMs ? (state.options.startMs ?? 0) : 0;
    const timeMs = startMs + frame.timeMs;
    if (!isUsableTime(timeMs)) return state.rejects.add('bad-time', where(), `${timeMs} ms is not from 1970 to 2100`);
    decoder.push(timeMs, frame.bus, frame.id, frame.data, frame.length);
  };
}

function createDelivery(state: ReadState, decoder: CanDecoder, targets: CanTargets): () => void {
  const wanted = new Set<ChannelName>(wantedChannels(state.options));
  return () => {
    // Faults first: they come no later than the block that reaches their time.
    const reports = decoder.takeFaults();
    if (reports.length > 0) targets.outlet.faults(reports);
    const block = decoder.takeBlock();
    if (block !== null) appendBlock(targets.shelves, block, wanted);
  };
}

function appendBlock(shelves: SampleShelves, block: SampleBlock, wanted: ReadonlySet<ChannelName>): void {
  const names = blockChannels(block).filter((name) => wanted.has(name));
  shelves.append(block.machineId, {
    timeMs: block.timeMs,
    columns: names.map((name) => block.channels[name] as Column),
    channelIndexes: names.map((name) => channelNames.indexOf(name)),
    from: 0,
    to: block.timeMs.length,
  });
}

function countDecoder(
  source: ByteSource,
  state: ReadState,
  what: { readonly machineId: string; readonly decoder: CanDecoder },
): void {
  const { machineId, decoder } = what;
  state.frames += decoder.frames;
  state.incompleteTransfers += decoder.incompleteTransfers;
  for (const [channel, counts] of Object.entries(decoder.unusable)) {
    for (const [reason, count] of Object.entries(counts)) {
      countUnusable(state, machineId, { channel, reason: reason as UnusableReason, count });
    }
  }
  if (decoder.lateFrames > 0) {
    warn(state, `${source.name}: ${decoder.lateFrames} frames came too late for the sample they belong to.`);
  }
}
