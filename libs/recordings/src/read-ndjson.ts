/** NDJSON of named channels -> samples: one object a line. */

import { type ChannelName, channelNames, isChannelName } from '@warmbrick/signals';
import type { ByteSource } from './byte-source.js';
import { warnOfUnknown } from './channel-table.js';
import { machineDetail, takeCell, timeDetail } from './read-csv.js';
import { longestLineBytes, readLines } from './read-lines.js';
import { countUnusable, fallbackMachineId, type ReadState, toMachineId, wantedChannels } from './read-state.js';
import { type SampleShelves, type Shelf, setValue } from './sample-shelves.js';
import { createTimeParser } from './time-parser.js';

/** Unknown keys remembered, so that each is named once without remembering any number of them. */
const unknownKeysKept = 1000;

/**
 * Reads one JSON object a line: `time`, optionally `machineId`, and channels.
 *
 * Errors: none of its own; a bad line is a counted reject.
 */
export async function readNdjson(source: ByteSource, state: ReadState, shelves: SampleShelves): Promise<void> {
  const takeObject = createObjectTaker(source, state, shelves);
  for await (const { firstLine, lines } of readLines(source.chunks)) {
    for (let i = 0; i < lines.length; i++) {
      const line = lines[i] as string | null;
      const lineNumber = firstLine + i;
      if (line === null) {
        state.rejects.add(
          'line-too-long',
          `${source.name}, line ${lineNumber}`,
          `longer than ${longestLineBytes} bytes`,
        );
      } else if (line.trim() !== '') {
        takeObject(parseObject(line), lineNumber);
      }
    }
  }
}

function parseObject(line: string): Record<string, unknown> | string {
  try {
    const parsed: unknown = JSON.parse(line);
    const isObject = typeof parsed === 'object' && parsed !== null && !Array.isArray(parsed);
    return isObject ? (parsed as Record<string, unknown>) : 'expected one JSON object a line';
  } catch (error) {
    return `not JSON: ${(error as Error).message}`;
  }
}

function createObjectTaker(
  source: ByteSource,
  state: ReadState,
  shelves: SampleShelves,
): (row: Record<string, unknown> | string, lineNumber: number) => void {
  const parse = createTimeParser();
  const fallback = fallbackMachineId(source.origin, state.options);
  const { onlyMachineId } = state.options;
  const indexes = new Map<string, number>(
    wantedChannels(state.options).map((name) => [name, channelNames.indexOf(name)]),
  );
  const unknownKeys = new Set<string>();

  return (row, lineNumber) => {
    const where = (): string => `${source.name}, line ${lineNumber}`;
    if (typeof row === 'string') return state.rejects.add('bad-line', where(), row);
    const machineText = row.machineId === undefined ? fallback : asText(row.machineId);
    const machineId = toMachineId(machineText);
    if (machineId === null) return state.rejects.add('bad-machine', where(), machineDetail(machineText));
    if (onlyMachineId !== undefined && machineId !== onlyMachineId) return;
    const timeText = asText(row.time).trim();
    const timeMs = parse(timeText);
    if (timeMs !== timeMs) return state.rejects.add('bad-time', where(), timeDetail(timeText));
    const keys = Object.keys(row).filter((key) => key !== 'time' && key !== 'machineId');
    for (const key of keys) {
      if (isChannelName(key) || unknownKeys.has(key) || unknownKeys.size >= unknownKeysKept) continue;
      unknownKeys.add(key);
      warnOfUnknown(source.name, key, state);
    }
    if (keys.length > 0 && !keys.some(isChannelName)) {
      return state.rejects.add(
        'no-channels',
        where(),
        `none of the keys names a channel: ${keys.slice(0, 8).join(', ')}`,
      );
    }
    const shelf = shelves.begin(machineId, timeMs);
    for (const key of keys) {
      const channelIndex = indexes.get(key);
      if (channelIndex !== undefined) takeValue(shelf, { value: row[key], channelIndex, where, state });
    }
  };
}

interface TakenValue {
  readonly value: unknown;
  readonly channelIndex: number;
  readonly where: () => string;
  readonly state: ReadState;
}

function takeValue(shelf: Shelf, taken: TakenValue): void {
  const { value, channelIndex, where, state } = taken;
  if (value === null) return;
  if (typeof value === 'number') {
    setValue(shelf, channelIndex, value, state);
    return;
  }
  if (typeof value === 'string') {
    takeCell(shelf, { text: value, channelIndex, where, state });
    return;
  }
  const channel = channelNames[channelIndex] as ChannelName;
  state.rejects.add(
    'bad-value',
    where(),
    `${channel}: expected a number or null, found ${JSON.stringify(value).slice(0, 40)}`,
  );
  countUnusable(state, shelf.machineId, { channel, reason: 'not-a-number', count: 1 });
}

function asText(value: unknown): string {
  if (typeof value === 'string') return value;
  return typeof value === 'number' ? String(value) : value === undefined ? '' : JSON.stringify(value);
}
