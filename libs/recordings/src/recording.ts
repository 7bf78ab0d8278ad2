/** What a recording is to the rest of the project. */

import type { ChannelName, FaultReport, SampleBlock } from '@warmbrick/signals';
import type { RejectTally } from './reject-tally.js';

export const recordingFormats = ['candump', 'can-csv', 'csv', 'ndjson', 'parquet'] as const;
export type RecordingFormat = (typeof recordingFormats)[number];

/** Rows one after the other of one machine; null for a name that cannot be a machine id. */
export interface MachineRows {
  readonly machineId: string | null;
  readonly rows: number;
}

/** Rows of a Parquet file that hold whole machines, one after the other. */
export interface ParquetPart {
  readonly firstRow: number;
  readonly rows: number;
  readonly machines: readonly MachineRows[];
}

export interface ReadOptions {
  /** Name of the machine for recordings that name none; default: the file's name without its endings. */
  readonly machineId?: string;
  /** Keep only this machine of a recording that names machines. */
  readonly onlyMachineId?: string;
  /** Read only this part of the one Parquet file that is read. */
  readonly part?: ParquetPart;
  /** Step of the grid that CAN frames are resampled to. Default 1000. */
  readonly gridMs?: number;
  /** UTC epoch ms that relative times start from. Default 0. */
  readonly startMs?: number;
  /** Carry a channel's last value into samples that lack it, at most this long. Default 0: never. */
  readonly fillS?: number;
  /** Read only these channels (projection); default: all. */
  readonly channels?: readonly ChannelName[];
  /** Samples in a block at most. Default 65 536. */
  readonly blockSamples?: number;
  /**
   * Whether the arrays of a block are the sink's only until `block` returns; saves most of the garbage collection of a long
   * replay. Default false: a sink may keep them.
   */
  readonly lendBlocks?: boolean;
  /** Threads that may decode Parquet and sort. Default 1. */
  readonly threads?: number;
}

/** Values thrown away at the edge: channel -> reason -> count. */
export type UnusableCounts = Record<string, Partial<Record<UnusableReason, number>>>;
/** Closed list of reasons for having no usable value. */
export type UnusableReason = 'implausible' | 'not-available' | 'error' | 'reserved' | 'sentinel' | 'not-a-number';

/** Receives blocks; for each machine strictly rising in time. */
export interface BlockSink {
  block(block: SampleBlock): void;
  /** Comes no later than the block of that machine that reaches the reports' time. */
  faults?(reports: readonly FaultReport[]): void;
  /** The files turned out not to be in order of time: forget every block so far, they will come again, sorted. */
  restart(): void;
}

export interface ReadReport {
  readonly formats: readonly RecordingFormat[];
  /** Samples handed to the sink. */
  readonly samples: number;
  /** Samples that came again for a time of a machine that was there already. */
  readonly duplicates: number;
  /** Times of a machine with different values of one channel; the larger value of each channel is kept. */
  readonly conflicts: number;
  /** CAN frames read, and transport transfers that never completed. */
  readonly frames: number;
  readonly incompleteTransfers: number;
  /** What a reader should know but that stops nothing, such as columns that name no channel. */
  readonly warnings: readonly string[];
  readonly wasSorted: boolean;
  readonly rejects: RejectTally;
  /** By machine. */
  readonly unusable: Readonly<Record<string, UnusableCounts>>;
}
