/** What the pipeline is made of and what it promises. */

import type { ThresholdSet } from '@warmbrick/analysis';
import type { FaultReport, MachineProfile, SampleBlock } from '@warmbrick/signals';
import type { CursorMove, MachineChange, Store } from '@warmbrick/store';

/** The part of a logger that the pipeline uses. */
export interface IngestLogger {
  info(fields: object, message: string): void;
  warn(fields: object, message: string): void;
  error(fields: object, message: string): void;
}

export interface IngestLimits {
  /** Batches waiting or in work; `accept` waits for a place. */
  readonly queuedBatches: number;
  /** Samples of one batch; more is a bug of the source. */
  readonly samplesPerBatch: number;
  /** Machines whose state is held in memory; the others' lies in the store. */
  readonly machinesInMemory: number;
  /** Samples later than the wall clock by more than this are put aside. */
  readonly futureMs: number;
  /** Waits between tries when the store does not answer. */
  readonly firstRetryMs: number;
  readonly longestRetryMs: number;
}

/** Source of all limits: engineering judgement. */
export const usualIngestLimits: IngestLimits = {
  queuedBatches: 64,
  samplesPerBatch: 2_000_000,
  machinesInMemory: 10_000,
  futureMs: 10 * 60_000,
  firstRetryMs: 100,
  longestRetryMs: 10_000,
};

export interface IngestOptions {
  readonly store: Store;
  readonly thresholds: ThresholdSet;
  readonly logger: IngestLogger;
  /** Called after each commit with what it changed. */
  readonly onChange?: (changes: readonly MachineChange[]) => void;
  /** The wall clock in UTC epoch ms; only tells samples from the future apart. */
  readonly now?: () => number;
  readonly limits?: Partial<IngestLimits>;
}

export interface AcceptOptions {
  /** Where the source stands after this batch; moves in the same transaction. */
  readonly cursor?: CursorMove | null;
  /** Recorded before now and somewhere else: the wall clock of this machine says nothing about its times. */
  readonly isRecorded?: boolean;
  /** Fault lists of any machines, committed with the samples. */
  readonly reports?: readonly FaultReport[];
}

export interface IngestStats {
  readonly batches: number;
  readonly samples: number;
  /** Machine batches that went back in time. */
  readonly rewinds: number;
  readonly retries: number;
  /** Samples put aside because their time is still to come. */
  readonly fromTheFuture: number;
}

export interface Ingest {
  /** Makes a machine known, or changes its profile; what was analysed before stays. */
  register(machineId: string, profile: MachineProfile): Promise<void>;
  /**
   * Takes samples of any machines and times. Resolves when everything is committed, in one transaction; while many
   * batches wait, it takes its time, and the source should wait with it.
   *
   * Errors: OperatingError `fenced` when another writer owns the source, `ingest-closed`, and what the store says that a
   * retry does not mend. Nothing of the batch is stored then.
   */
  accept(blocks: readonly SampleBlock[], options?: AcceptOptions): Promise<void>;
  stats(): IngestStats;
  /** Takes nothing more and resolves when everything taken is committed or has failed. */
  close(): Promise<void>;
}
