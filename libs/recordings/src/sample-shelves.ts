/** Gathers samples into blocks, one growing shelf a machine, all of it bounded. */

import {
  type ChannelName,
  type Column,
  channelNames,
  createColumn,
  quantiseColumn,
  type SampleBlock,
} from '@warmbrick/signals';
import { countUnusable, defaultBlockSamples, type Outlet, type ReadState } from './read-state.js';

/**
 * What to do with a sample that is not later than the one before it of the same machine: throw `disorder`, begin a new
 * block, keep it in the block (the receiver sorts), or, of equal times, merge them.
 */
export type OrderRule = 'stop' | 'cut' | 'keep' | 'merge';

/** Thrown when samples are not in order of time and the rule is to stop; caught by `readInOrder`. */
export const disorder = new Error('samples are not in order of time');

export interface Shelf {
  readonly machineId: string;
  length: number;
  capacity: number;
  lastMs: number;
  hasConflict: boolean;
  /** Samples before this one are rounded and counted already. */
  roundedTo: number;
  /** From `length` up to here the columns still hold what was lent out before. */
  staleTo: number;
  timeMs: Float64Array;
  /** By index in the channel catalogue. */
  columns: (Column | undefined)[];
}

interface Run {
  readonly timeMs: Float64Array;
  readonly columns: readonly Column[];
  /** Index in the channel catalogue of each column. */
  readonly channelIndexes: readonly number[];
  readonly from: number;
  readonly to: number;
}

export interface SampleShelves {
  /** Whether a stretch given to `append` may be out of order. */
  readonly takesDisorder: boolean;
  /** Begins a sample of a machine; then `setValue` fills it. */
  begin(machineId: string, timeMs: number): Shelf;
  /** Takes over a stretch of samples whose times rise strictly, unless `takesDisorder`. */
  append(machineId: string, run: Run): void;
  /** Hands over everything that is held. */
  flush(): void;
}

/** Samples and machines held at once over all shelves; at the bound everything is handed over. */
const mostHeldSamples = 524_288;
const mostShelves = 8192;
const firstCapacity = 32;

/**
 * Creates shelves that hand quantised blocks to `outlet`.
 *
 * Missing: a column without a single usable value is left out of its block.
 */
export function createShelves(state: ReadState, outlet: Outlet, rule: OrderRule): SampleShelves {
  const blockSamples = Math.max(1, state.options.blockSamples ?? defaultBlockSamples);
  const rack: Rack = { state, outlet, rule, blockSamples, shelves: new Map(), held: 0, latest: null };
  return {
    takesDisorder: rule === 'keep',
    begin(machineId, timeMs) {
      const shelf = findShelf(rack, machineId);
      if (rule === 'merge' && timeMs === shelf.lastMs) {
        state.duplicates++;
        return shelf;
      }
      if (timeMs <= shelf.lastMs) breakOrder(rack, shelf);
      makeRoom(rack, shelf, 1);
      if (shelf.length < shelf.staleTo) blankAll(shelf);
      shelf.timeMs[shelf.length++] = timeMs;
      shelf.lastMs = timeMs;
      shelf.hasConflict = false;
      rack.held++;
      return shelf;
    },
    append(machineId, run) {
      const shelf = findShelf(rack, machineId);
      round(shelf, state);
      if ((run.timeMs[run.from] as number) <= shelf.lastMs) breakOrder(rack, shelf);
      let from = run.from;
      while (from < run.to) {
        makeRoom(rack, shelf, run.to - from);
        const to = Math.min(run.to, from + shelf.capacity - shelf.length);
        copyRun(shelf, run, { from, to });
        // Now, while the values are in the processor's nearest cache; a pass over whole blocks takes twice as long.
        round(shelf, state);
        rack.held += to - from;
        from = to;
      }
      shelf.hasConflict = false;
    },
    flush: () => flushRack(rack),
  };
}

interface Rack {
  readonly state: ReadState;
  readonly outlet: Outlet;
  readonly rule: OrderRule;
  readonly blockSamples: number;
  readonly shelves: Map<string, Shelf>;
  /** Samples on all shelves. */
  held: number;
  latest: Shelf | null;
}

function handOver(rack: Rack, shelf: Shelf): void {
  const { length } = shelf;
  if (length === 0) return;
  rack.held -= length;
  round(shelf, rack.state);
  const block = toBlock(shelf);
  // Sorted samples wait for the faults before them, so their blocks cannot be lent.
  const lends = rack.state.options.lendBlocks === true && rack.rule !== 'merge';
  if (!lends) clear(shelf);
  rack.outlet.block(block);
  if (lends) reuse(shelf, length);
}

function flushRack(rack: Rack): void {
  for (const shelf of rack.shelves.values()) handOver(rack, shelf);
  rack.shelves.clear();
  rack.latest = null;
}

function findShelf(rack: Rack, machineId: string): Shelf {
  if (rack.latest !== null && rack.latest.machineId === machineId) return rack.latest;
  let shelf = rack.shelves.get(machineId);
  if (shelf === undefined) {
    if (rack.shelves.size >= mostShelves) flushRack(rack);
    shelf = createShelf(machineId, Math.min(firstCapacity, rack.blockSamples));
    rack.shelves.set(machineId, shelf);
  }
  rack.latest = shelf;
  return shelf;
}

function breakOrder(rack: Rack, shelf: Shelf): void {
  if (rack.rule === 'stop') throw disorder;
  if (rack.rule === 'cut') handOver(rack, shelf);
}

/** Makes room for at least one more sample, and for all that are wanted if the bounds allow. */
function makeRoom(rack: Rack, shelf: Shelf, wanted: number): void {
  if (rack.held >= mostHeldSamples) for (const each of rack.shelves.values()) handOver(rack, each);
  if (shelf.length >= rack.blockSamples) handOver(rack, shelf);
  if (shelf.length + wanted > shelf.capacity) grow(shelf, shelf.length + wanted, rack.blockSamples);
}

/**
 * Puts a value into the sample begun last; of two values for one time the larger stays.
 *
 * Missing: NaN leaves what is there.
 */
export function setValue(shelf: Shelf, channelIndex: number, value: number, state: ReadState): void {
  if (value !== value) return;
  const column = columnOf(shelf, channelIndex);
  const at = shelf.length - 1;
  const there = column[at] as number;
  column[at] = value;
  if (there !== there) return;
  const written = column[at] as number;
  if (written === there) return;
  if (!shelf.hasConflict) state.conflicts++;
  shelf.hasConflict = true;
  if (there > written) column[at] = there;
}

function createShelf(machineId: string, capacity: number): Shelf {
  const timeMs = new Float64Array(capacity);
  const lastMs = Number.NEGATIVE_INFINITY;
  return { machineId, length: 0, capacity, lastMs, hasConflict: false, roundedTo: 0, staleTo: 0, timeMs, columns: [] };
}

/** Starts afresh: the arrays handed over are the receiver's. */
function clear(shelf: Shelf): void {
  shelf.length = 0;
  shelf.roundedTo = 0;
  shelf.staleTo = 0;
  shelf.timeMs = new Float64Array(shelf.capacity);
  shelf.columns = [];
}

/** Starts again on the same arrays: they were only lent. What is in them is overwritten or blanked when it is its turn. */
function reuse(shelf: Shelf, length: number): void {
  shelf.length = 0;
  shelf.roundedTo = 0;
  shelf.staleTo = Math.max(shelf.staleTo, length);
}

/** Takes out what was lent before from the next samples, in all columns but those that are about to be written. */
function blank(shelf: Shelf, next: { readonly to: number; readonly butFor: readonly number[] }): void {
  const { columns, length } = shelf;
  const to = Math.min(next.to, shelf.staleTo);
  for (let i = 0; i < columns.length; i++) {
    const column = columns[i];
    if (column !== undefined && !next.butFor.includes(i)) column.fill(Number.NaN, length, to);
  }
}

/** The same for all that is left, once: single samples write one value at a time. */
function blankAll(shelf: Shelf): void {
  blank(shelf, { to: shelf.staleTo, butFor: [] });
  shelf.staleTo = 0;
}

function grow(shelf: Shelf, least: number, most: number): void {
  const capacity = Math.min(most, Math.max(least, shelf.capacity * 2));
  if (capacity === shelf.capacity) return;
  const timeMs = new Float64Array(capacity);
  timeMs.set(shelf.timeMs.subarray(0, shelf.length));
  shelf.timeMs = timeMs;
  shelf.columns = shelf.columns.map((column, index) => {
    if (column === undefined) return undefined;
    const larger = createColumn(channelNames[index] as ChannelName, capacity);
    larger.set(column.subarray(0, shelf.length));
    return larger;
  });
  shelf.capacity = capacity;
  shelf.staleTo = 0;
}

function columnOf(shelf: Shelf, channelIndex: number): Column {
  let column = shelf.columns[channelIndex];
  if (column === undefined) {
    column = createColumn(channelNames[channelIndex] as ChannelName, shelf.capacity);
    shelf.columns[channelIndex] = column;
  }
  return column;
}

function copyRun(shelf: Shelf, run: Run, range: { readonly from: number; readonly to: number }): void {
  const { from, to } = range;
  const at = shelf.length;
  if (at < shelf.staleTo) blank(shelf, { to: at + (to - from), butFor: run.channelIndexes });
  shelf.timeMs.set(run.timeMs.subarray(from, to), at);
  for (let i = 0; i < run.columns.length; i++) {
    const source = run.columns[i] as Column;
    columnOf(shelf, run.channelIndexes[i] as number).set(source.subarray(from, to), at);
  }
  shelf.length = at + (to - from);
  shelf.lastMs = run.timeMs[to - 1] as number;
}

/** Rounds what came since the last time to the resolution of its channel, and counts what is no measurement. */
function round(shelf: Shelf, state: ReadState): void {
  const { machineId, roundedTo, length, columns } = shelf;
  if (roundedTo === length) return;
  for (let i = 0; i < columns.length; i++) {
    const column = columns[i];
    if (column === undefined) continue;
    const channel = channelNames[i] as ChannelName;
    const count = quantiseColumn(channel, column.subarray(roundedTo, length));
    if (count > 0) countUnusable(state, machineId, { channel, reason: 'implausible', count });
  }
  shelf.roundedTo = length;
}

function toBlock(shelf: Shelf): SampleBlock {
  const { machineId, length } = shelf;
  const columns: Partial<Record<ChannelName, Column>> = {};
  for (let i = 0; i < channelNames.length; i++) {
    const whole = shelf.columns[i];
    if (whole === undefined) continue;
    const column = whole.length === length ? whole : whole.subarray(0, length);
    if (hasNumber(column)) columns[channelNames[i] as ChannelName] = column;
  }
  const timeMs = shelf.timeMs.length === length ? shelf.timeMs : shelf.timeMs.subarray(0, length);
  return { machineId, timeMs, channels: columns };
}

function hasNumber(column: Column): boolean {
  for (let i = 0; i < column.length; i++) if (column[i] === column[i]) return true;
  return false;
}
