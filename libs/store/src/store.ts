/** What the services ask of the store. One implementation: PostgreSQL. */

import type { AnalyzerSnapshot, Finding, MachineSummary, ResidencyRow } from '@warmbrick/analysis';
import type { ChannelName, FaultReport, MachineProfile, SampleBlock } from '@warmbrick/signals';
import type { AccessStore, FleetScope } from './access-store.js';
import type { AlertStore } from './alert-store.js';
import type { DeliveryStore } from './delivery-store.js';
import type { FaultStore } from './fault-store.js';
import type { FindingsTopic, OutboxLease, OutboxMessageOf, OutboxTopic } from './outbox-message.js';
import type { ScoreStore } from './score-store.js';
import type { ServiceStore } from './service-store.js';
import type { TuningStore } from './tuning-store.js';

/** Everything one machine's batch changes. */
export interface MachineChange {
  readonly machineId: string;
  /** Samples to archive; overlapping archived time is merged sample by sample. */
  readonly samples: readonly SampleBlock[];
  readonly findings: readonly Finding[];
  /** Findings that a re-run from earlier no longer makes. */
  readonly withdrawnFindingIds: readonly string[];
  readonly rows: readonly ResidencyRow[];
  /** Fault lists as reported; the same report again adds nothing. */
  readonly faults?: readonly FaultReport[];
  /** How the machine stands; null for a machine without samples yet, which leaves what is stored as it is. */
  readonly summary: MachineSummary | null;
  /** The analyser's state; null together with `summary`. */
  readonly snapshot: AnalyzerSnapshot | null;
  /** Snapshots to keep for rewinding, with the machine time they stand at; and how far back older ones fall. */
  readonly keptSnapshots: readonly { readonly atMs: number; readonly snapshot: AnalyzerSnapshot }[];
  /** Snapshots and row starts after this time are void (a rewind); null when nothing was rewound. */
  readonly rewoundToMs: number | null;
  /** Made by `packChange`: samples and states as bytes; they are empty above then. What writes them in a commit reads these. */
  readonly packed?: PackedParts;
}

export interface PackedParts {
  readonly chunks: readonly PackedChunk[];
  /** JSON in UTF-8; null when there is no state. */
  readonly state: Uint8Array | null;
  readonly keptStates: readonly { readonly atMs: number; readonly body: Uint8Array }[];
}

/** Samples of one hour, as `encodeChunk` makes them. */
export interface PackedChunk {
  readonly hourMs: number;
  readonly firstMs: number;
  readonly lastMs: number;
  readonly samples: number;
  readonly bytes: Uint8Array;
}

/** Position of a source, moved in the same transaction as the changes it brought. */
export interface CursorMove {
  readonly source: string;
  readonly partition: number;
  /** Epoch obtained from `claim`; a commit with an older epoch changes nothing and fails with code `fenced`. */
  readonly epoch: number;
  readonly nextOffset: number;
}

/** A message that was not taken, or not whole. Its place in the source is its identity: once is enough. */
export interface RejectedMessage {
  /** As in `CursorMove`. */
  readonly source: string;
  readonly partition: number;
  readonly offset: number;
  /** A code of a closed list, such as `rejectReasons` of contracts. */
  readonly reason: string;
  /** What was wrong, in words; at most 1000 characters are kept. */
  readonly detail: string;
  readonly key: string | null;
  /** The message as it came. At most 64 KiB of it are kept. */
  readonly payload: Uint8Array;
  /** When it was put aside, by the wall clock. */
  readonly atMs: number;
}

export interface StoredReject extends RejectedMessage {
  /** Length of the message as it came; `payload` is shorter when `isTruncated`. */
  readonly payloadBytes: number;
  readonly isTruncated: boolean;
}

/** What else moves in the transaction of a commit. */
export interface CommitExtras {
  /** One for each partition that the batch came from; each is fenced, and one that fails undoes the commit. */
  readonly cursors?: readonly CursorMove[];
  readonly rejects?: readonly RejectedMessage[];
}

/** How long what is kept, as age in ms against the time that `retain` is given; null keeps it for ever. */
export interface Retention {
  /** By whole months of machine time: a month goes when all of it is older. */
  readonly samplesMs: number | null;
  readonly rowsMs: number | null;
  /** States to rewind to. The newest state of each machine always stays. */
  readonly snapshotsMs: number | null;
  readonly faultsMs: number | null;
  /** Sent messages; they guard against nothing but a second look. */
  readonly sentOutboxMs: number | null;
  /** Messages that nobody took or that always failed: what bounds the outbox while nothing is listening. */
  readonly unsentOutboxMs: number | null;
  readonly rejectsMs: number | null;
  /** Alerts that are over, with every step of theirs, by the time they were learned of; left out is for ever. */
  readonly alertsMs?: number | null | undefined;
}

/** Number of things that `retain` deleted. */
export interface Retired {
  readonly sampleMonths: number;
  readonly chunks: number;
  readonly rows: number;
  readonly snapshots: number;
  readonly faults: number;
  readonly sentOutbox: number;
  /** More than 0 means that findings were never told to anybody. */
  readonly unsentOutbox: number;
  readonly rejects: number;
  readonly alerts: number;
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
  /** Machines of these fleets only. */
  readonly fleets?: readonly string[] | undefined;
}

export interface FindingPage {
  /** Default: all machines. */
  readonly machineId?: string | undefined;
  /** Machines of these fleets only. */
  readonly fleets?: readonly string[] | undefined;
  readonly limit: number;
  readonly cursor?: string | undefined;
  readonly fromMs?: number | undefined;
  readonly toMs?: number | undefined;
  readonly kinds?: readonly string[] | undefined;
  readonly severities?: readonly string[] | undefined;
}

export interface FaultPage {
  readonly machineId: string;
  readonly limit: number;
  readonly cursor?: string | undefined;
  readonly fromMs?: number | undefined;
  readonly toMs?: number | undefined;
  /** Default `newest`. */
  readonly first?: 'newest' | 'oldest' | undefined;
}

export interface RejectPage {
  readonly limit: number;
  readonly cursor?: string | undefined;
  readonly source?: string | undefined;
  readonly fromMs?: number | undefined;
  readonly toMs?: number | undefined;
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

export interface Store
  extends AlertStore,
    AccessStore,
    DeliveryStore,
    FaultStore,
    ScoreStore,
    ServiceStore,
    TuningStore {
  /** The store as somebody sees it who may see these fleets only; cut here and, behind that, by the database itself. */
  forFleets(fleets: FleetScope): Store;

  /** Registers or renames a machine; its profile is replaced. */
  putMachine(machineId: string, profile: MachineProfile): Promise<void>;
  /** The profile of a registered machine, whether it was seen or not; null for an unknown one. */
  loadProfile(machineId: string): Promise<MachineProfile | null>;
  /** Takes ownership of a source's partition: raises its epoch and says where to go on. */
  claim(source: string, partition: number): Promise<{ nextOffset: number; epoch: number }>;
  /**
   * Commits all changes, cursors and rejects in one transaction. A single cursor may be given as it is.
   *
   * Cursors come first and in order of their keys, so that writers of several partitions cannot lock each other out.
   * A store that was opened with `outbox: true` writes a message for each finding that is new, changed or withdrawn.
   * Errors: OperatingError `fenced`, `cursor-moved-back` (nothing is written then), or retriable ones.
   */
  commit(changes: readonly MachineChange[], extras?: CommitExtras | CursorMove | null): Promise<void>;

  loadSnapshot(machineId: string): Promise<AnalyzerSnapshot | null>;
  /** The kept snapshot at or before a time, for rewinding. */
  loadSnapshotBefore(machineId: string, atMs: number): Promise<{ atMs: number; snapshot: AnalyzerSnapshot } | null>;
  readSamples(range: SampleRange): Promise<SampleBlock[]>;

  listMachines(page: MachinePage): Promise<Page<StoredMachine>>;
  getMachine(machineId: string): Promise<StoredMachine | null>;
  /** Time of the last sample of every machine that was seen; what tells whether one was written to. */
  machineClocks(): Promise<Map<string, number>>;
  listFindings(page: FindingPage): Promise<Page<Finding>>;
  /** Ids of findings, not withdrawn, that were last made after a machine time (`Finding.emittedMs` > atMs). */
  findingIdsSince(machineId: string, atMs: number): Promise<string[]>;
  /** Rows that start in [fromMs, toMs), by machine, in order of time. One query for many machines. */
  listRows(machineIds: readonly string[], fromMs: number, toMs: number): Promise<Map<string, ResidencyRow[]>>;
  /** Number of findings that started in [fromMs, toMs), by machine and kind; each machine with its own range. */
  countFindings(
    ranges: readonly { machineId: string; fromMs: number; toMs: number }[],
  ): Promise<Map<string, Record<string, number>>>;

  /** Fault reports with fromMs <= time < toMs, in order of time. */
  listFaults(page: FaultPage): Promise<Page<FaultReport>>;
  /** Rejected messages with fromMs <= `atMs` < toMs, latest first. */
  listRejects(page: RejectPage): Promise<Page<StoredReject>>;

  /**
   * Takes messages of one topic to send, oldest first, and nobody else gets them for `leaseMs`. Messages of one key must be sent in the
   * given order; when one fails, those of the same key after it have to be failed too. An owner that dies loses nothing:
   * what it had comes again when the lease is over, so delivery is at least once.
   */
  takeOutbox<T extends OutboxTopic = FindingsTopic>(lease: OutboxLease<T>): Promise<OutboxMessageOf<T>[]>;
  /** Marks messages as sent; ids that are sent or gone already are passed over. */
  settleOutbox(ids: readonly number[]): Promise<void>;
  /** Gives messages back; they and later ones of their keys wait until `retryAtMs` (wall clock). */
  failOutbox(ids: readonly number[], retryAtMs: number): Promise<void>;

  /**
   * Deletes what is older than the retention says, in small steps; call it hourly or daily. Findings and machines stay.
   * One process at a time does it; others return at once with nothing done.
   */
  retain(retention: Retention, nowMs: number): Promise<Retired>;
  /**
   * Puts the small chunks of machines that fell silent before `beforeMs` (machine time) together, at most `limit` machines;
   * call it hourly with the time an hour ago. Returns how many machines' hours were put together.
   */
  compact(beforeMs: number, limit: number): Promise<number>;

  /** Errors: OperatingError when the database does not answer. */
  ping(): Promise<void>;
  close(): Promise<void>;
}
