/** Puts the columns of a table of named channels in relation to the catalogue. */

import { type ChannelName, channelNames, isChannelName } from '@warmbrick/signals';
import { type ReadState, wantedChannels, warn } from './read-state.js';
import { noKnownChannel, noTimeColumn } from './recording-errors.js';

export interface ChannelTable {
  /** Position of the time column. */
  readonly timeAt: number;
  /** Position of the machine column, or -1. */
  readonly machineAt: number;
  /** For each column, the channel's index in the catalogue, or -1 when it is not read. */
  readonly channelIndexes: readonly number[];
}

const timeName = 'time';
const machineName = 'machineId';

/**
 * Finds time, machine and channels among the columns of a table.
 *
 * Errors: `recording-no-time`, `recording-no-channel`.
 */
export function mapColumns(name: string, columns: readonly string[], state: ReadState): ChannelTable {
  const timeAt = columns.indexOf(timeName);
  if (timeAt < 0) throw noTimeColumn(name, columns);
  const machineAt = columns.indexOf(machineName);
  const wanted = new Set<ChannelName>(wantedChannels(state.options));
  const values = columns.filter((column) => column !== timeName && column !== machineName && column !== '');
  if (!values.some(isChannelName)) throw noKnownChannel(name, values);
  for (const column of values) warnOfUnknown(name, column, state);
  const channelIndexes = columns.map((column) =>
    isChannelName(column) && wanted.has(column) ? channelNames.indexOf(column) : -1,
  );
  return { timeAt, machineAt, channelIndexes };
}

/** Says once that a column or key names no channel. */
export function warnOfUnknown(name: string, column: string, state: ReadState): void {
  if (column !== timeName && column !== machineName && !isChannelName(column)) {
    warn(state, `${name}: "${column.slice(0, 64)}" names no known channel and is not read.`);
  }
}
