/** Many small blocks of one machine -> few large ones, while they come: what is copied at once need not be kept. */

import { type ChannelName, isWideChannel } from './channels.js';
import type { Column, SampleBlock } from './sample-block.js';

export interface BlockGatherer {
  /** Takes a block. It is copied when another one follows on it, and may then be forgotten. */
  add(block: SampleBlock): void;
  /** What was taken, in order, as few blocks; together they are the same to `mergeBlocks`. The last call. */
  blocks(): SampleBlock[];
}

/** Blocks that follow one another in time and carry the same channels. */
interface Run {
  readonly machineId: string;
  readonly names: readonly ChannelName[];
  timeMs: Float64Array;
  columns: Column[];
  length: number;
}

/** Room for more samples at the beginning and whenever there is none, as a multiple of what there is. */
const growth = 2;

/** Gathers blocks of one machine. */
export function createBlockGatherer(): BlockGatherer {
  const done: SampleBlock[] = [];
  /** The last block as it came, as long as nothing has followed on it. */
  let lone: SampleBlock | null = null;
  let run: Run | null = null;
  const close = () => {
    if (lone !== null) done.push(lone);
    if (run !== null) done.push(blockOf(run));
    lone = null;
    run = null;
  };
  return {
    add(block) {
      if (block.timeMs.length === 0) return;
      if (run === null && lone !== null && follows(lone.timeMs, lone.timeMs.length, block)) {
        const names = Object.keys(lone.channels) as ChannelName[];
        if (hasChannels(block, names)) {
          run = openRun(lone, names);
          lone = null;
        }
      }
      if (run !== null && follows(run.timeMs, run.length, block) && hasChannels(block, run.names)) append(run, block);
      else {
        close();
        lone = block;
      }
    },
    blocks() {
      close();
      return done;
    },
  };
}

function follows(timeMs: Float64Array, length: number, next: SampleBlock): boolean {
  return (next.timeMs[0] as number) > (timeMs[length - 1] as number);
}

/** Whether a block lists exactly these channels, in this order. */
function hasChannels({ channels }: SampleBlock, names: readonly ChannelName[]): boolean {
  let place = 0;
  for (const name in channels) {
    if (name !== names[place++] || channels[name as ChannelName] === undefined) return false;
  }
  return place === names.length;
}

function openRun(first: SampleBlock, names: readonly ChannelName[]): Run {
  const { length } = first.timeMs;
  const columns = names.map((name) => extended(first.channels[name] as Column, isWideChannel(name), growth * length));
  const timeMs = extended(first.timeMs, true, growth * length) as Float64Array;
  return { machineId: first.machineId, names, timeMs, columns, length };
}

function append(run: Run, { timeMs, channels }: SampleBlock): void {
  const length = run.length + timeMs.length;
  if (length > run.timeMs.length) {
    const room = growth * length;
    run.timeMs = extended(run.timeMs, true, room) as Float64Array;
    run.columns = run.columns.map((column) => extended(column, column instanceof Float64Array, room));
  }
  run.timeMs.set(timeMs, run.length);
  for (let k = 0; k < run.columns.length; k++) {
    (run.columns[k] as Column).set(channels[run.names[k] as ChannelName] as Column, run.length);
  }
  run.length = length;
}

function extended(column: Column, isWide: boolean, length: number): Column {
  const longer = isWide ? new Float64Array(length) : new Float32Array(length);
  longer.set(column);
  return longer;
}

/** Shapes: views of the run's memory. */
function blockOf({ machineId, names, timeMs, columns, length }: Run): SampleBlock {
  const channels = Object.fromEntries(names.map((name, k) => [name, (columns[k] as Column).subarray(0, length)]));
  return { machineId, timeMs: timeMs.subarray(0, length), channels };
}
