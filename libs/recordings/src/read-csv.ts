/** CSV of named channels -> samples. */

import { channelNames } from '@warmbrick/signals';
import type { ByteSource } from './byte-source.js';
import { type ChannelTable, mapColumns } from './channel-table.js';
import { findSeparator } from './detect-format.js';
import { notANumber, parseCell } from './parse-cell.js';
import { longestLineBytes, readLines } from './read-lines.js';
import { countUnusable, fallbackMachineId, type ReadState, toMachineId } from './read-state.js';
import { type SampleShelves, type Shelf, setValue } from './sample-shelves.js';
import { splitCells } from './split-cells.js';
import { createTimeParser } from './time-parser.js';

interface CsvTable extends ChannelTable {
  readonly separator: string;
  readonly columns: readonly string[];
  readonly machineId: string;
}

/**
 * Reads a CSV whose first line names the columns.
 *
 * Shapes: `machineId`, `time` and channels in any order; comma, semicolon or tab; quoted cells without line breaks.
 * Errors: `recording-no-time`, `recording-no-channel`; a bad line is a counted reject.
 */
export async function readCsv(source: ByteSource, state: ReadState, shelves: SampleShelves): Promise<void> {
  let takeRow: ((line: string, lineNumber: number) => void) | null = null;
  for await (const { firstLine, lines } of readLines(source.chunks)) {
    for (let i = 0; i < lines.length; i++) {
      const line = lines[i] as string | null;
      if (line === null) {
        const where = `${source.name}, line ${firstLine + i}`;
        state.rejects.add('line-too-long', where, `longer than ${longestLineBytes} bytes`);
      } else if (line.trim() !== '') {
        if (takeRow === null)
          takeRow = createRowTaker(source, state, { table: readHeader(source, line, state), shelves });
        else takeRow(line, firstLine + i);
      }
    }
  }
}

function readHeader(source: ByteSource, line: string, state: ReadState): CsvTable {
  const separator = findSeparator(line) ?? ',';
  const columns = (splitCells(line, separator) ?? line.split(separator)).map((name) => name.trim());
  const table = mapColumns(source.name, columns, state);
  return { ...table, separator, columns, machineId: fallbackMachineId(source.origin, state.options) };
}

function createRowTaker(
  source: ByteSource,
  state: ReadState,
  to: { readonly table: CsvTable; readonly shelves: SampleShelves },
): (line: string, lineNumber: number) => void {
  const { table, shelves } = to;
  const { timeAt, machineAt, channelIndexes } = table;
  const width = table.columns.length;
  const parse = createTimeParser();
  const { onlyMachineId } = state.options;

  return (line, lineNumber) => {
    const where = (): string => `${source.name}, line ${lineNumber}`;
    const cells = splitCells(line, table.separator);
    if (cells === null) return state.rejects.add('bad-line', where(), 'a quote is not closed, or text follows it');
    if (!fits(cells, width)) {
      return state.rejects.add('bad-line', where(), `expected ${width} cells, found ${cells.length}`);
    }
    const machineId = machineAt < 0 ? table.machineId : toMachineId(cells[machineAt] as string);
    if (machineId === null) return state.rejects.add('bad-machine', where(), machineDetail(cells[machineAt] as string));
    if (onlyMachineId !== undefined && machineId !== onlyMachineId) return;
    const timeText = (cells[timeAt] as string).trim();
    const timeMs = parse(timeText);
    if (timeMs !== timeMs) return state.rejects.add('bad-time', where(), timeDetail(timeText));
    const shelf = shelves.begin(machineId, timeMs);
    for (let i = 0; i < width; i++) {
      const channelIndex = channelIndexes[i] as number;
      if (channelIndex >= 0) takeCell(shelf, { text: cells[i] as string, channelIndex, where, state });
    }
  };
}

/** Whether a row has the header's cells; blank ones beyond them do no harm. */
function fits(cells: readonly string[], width: number): boolean {
  if (cells.length < width) return false;
  for (let i = width; i < cells.length; i++) if ((cells[i] as string).trim() !== '') return false;
  return true;
}

interface TakenCell {
  readonly text: string;
  readonly channelIndex: number;
  readonly where: () => string;
  readonly state: ReadState;
}

/** Puts the number of a text cell into the sample begun last; what is no number is counted and is no value. */
export function takeCell(shelf: Shelf, cell: TakenCell): void {
  const { text, channelIndex, where, state } = cell;
  const value = parseCell(text);
  if (value !== notANumber) {
    setValue(shelf, channelIndex, value, state);
    return;
  }
  const channel = channelNames[channelIndex] as string;
  state.rejects.add(
    'bad-value',
    where(),
    `${channel}: "${text.slice(0, 40)}" is not a number; expected one, or a blank`,
  );
  countUnusable(state, shelf.machineId, { channel, reason: 'not-a-number', count: 1 });
}

/** What a reject of reason `bad-machine` says. */
export function machineDetail(text: string): string {
  return text.trim() === ''
    ? 'the machine is blank'
    : `"${text.slice(0, 40)}" cannot be a machine id; expected 1-128 characters, none of control`;
}

/** What a reject of reason `bad-time` says. */
export function timeDetail(text: string): string {
  return `"${text.slice(0, 40)}"; expected RFC 3339 with an offset, or epoch milliseconds, from 1970 to 2100`;
}
