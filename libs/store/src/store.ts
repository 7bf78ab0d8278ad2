/** What the services ask of the store. One implementation: PostgreSQL. */

import type { AnalyzerSnapshot, Finding, MachineSummary, ResidencyRow } from '@warmbrick/analysis';
import type { ChannelName, MachineProfile, SampleBlock } from '@warmbrick/signals';

/** Everything one machine's batch changes. */
export interface MachineChange {
  readonly machineId: string;
  /** Samples to archive; overlapping archived time is merged sample by sample. */
  readonly samples: readonly SampleBlock[];
  readonly findings: readonly Finding[];
  /** Findings that a re-run from earlier no longer makes. */
  readonly withdrawnFindingIds: readonly string[];
  readonly rows: readonly ResidencyRow[];
  readonly summary: MachineSummary;
  readonly snapshot: AnalyzerSnapshot;
  /** Snapshots to keep for rewinding, with the machine time they stand at; and how far back older ones fall. */
  readonly keptSnapshots: readonly { readonly atMs: number; readonly snapshot: AnalyzerSnapshot }[];
  /** Snapshots and row starts after this time are void (a rewind); null when nothing was rewound. */
  readonly rewoundToMs: number | null;
}

/** Position of a source, moved in the same transaction as the changes it brought. */
export interface CursorMove {
  readonly source: string;
  readonly partition: number;
  /** Epoch obtained from `claim`; a commit with an older epoch changes nothing and fails with code `fenced`. */
  readonly epoch: number;
  readonly nextOffset: number;
}

export interface StoredMachine {
  readonly machineId: string;
  readonly profile: MachineProfile;
  readonly thresholdSet: string;
  readonly summary: MachineSummary;
  readonly lastSampleMs: number;
}

export interface MachinePage {
  readonly limit: number;
  readonly cursor?: string | undefined;
  readonly sort: 'risk' | 'name';
  readonly site?: string | undefined;
}

export interface FindingPage {
  readonly machineId: string;
  readonly limit: number;
  readonly cursor?: string | undefined;
  readonly fromMs?: number | undefined;
  readonly toMs?: number | undefined;
  readonly kinds?: readonly string[] | undefined;
}

export interface SampleRange {
  readonly machineId: string;
  readonly fromMs: number;
  readonly toMs: number;
  readonly channels?: readonly ChannelName[] | undefined;
}

export interface Page<T> {
  readonly items: readonly T[];
  readonly nextCursor: string | null;
}

export interface Store {
  /** Registers or renames a machine; its profile is replaced. */
  putMachine(machineId: string, profile: MachineProfile): Promise<void>;
  /** The profile of a registered machine, whether it was seen or not; null for an unknown one. */
  loadProfile(machineId: string): Promise<MachineProfile | null>;
  /** Takes ownership of a source's partition: raises its epoch and says where to go on. */
  claim(source: string, partition: number): Promise<{ nextOffset: number; epoch: number }>;
  /** Commits all changes and the cursor in one transaction. Errors: OperatingError `fenced`, or retriable ones. */
  commit(changes: readonly MachineChange[], cursor: CursorMove | null): Promise<void>;

  loadSnapshot(machineId: string): Promise<AnalyzerSnapshot | null>;
  /** The kept snapshot at or before a time, for rewinding. */
  loadSnapshotBefore(machineId: string, atMs: number): Promise<{ atMs: number; snapshot: AnalyzerSnapshot } | null>;
  readSamples(range: SampleRange): Promise<SampleBlock[]>;

  listMachines(page: MachinePage): Promise<Page<StoredMachine>>;
  getMachine(machineId: string): Promise<StoredMachine | null>;
  listFindings(page: FindingPage): Promise<Page<Finding>>;
  /** Ids of findings, not withdrawn, that were last made after a machine time (`Finding.emittedMs` > atMs). */
  findingIdsSince(machineId: string, atMs: number): Promise<string[]>;
  /** Rows that start in [fromMs, toMs), by machine, in order of time. One query for many machines. */
  listRows(machineIds: readonly string[], fromMs: number, toMs: number): Promise<Map<string, ResidencyRow[]>>;
  /** Number of findings that started in [fromMs, toMs), by machine and kind; each machine with its own range. */
  countFindings(
    ranges: readonly { machineId: string; fromMs: number; toMs: number }[],
  ): Promise<Map<string, Record<string, number>>>;

  /** Errors: OperatingError when the database does not answer. */
  ping(): Promise<void>;
  close(): Promise<void>;
}
