/** What the store keeps of fault codes and derates: episodes, typed entries, texts of a fleet, inquiries with their history. */

import type {
  DerateEpisode,
  DerateInquiry,
  FaultEpisode,
  FaultNotice,
  FleetFault,
  FleetFaultTable,
  InquiryRevision,
} from '@warmbrick/analysis';
import type { Page } from './store.js';

/** A code of a controller with everything that is known of when it occurred. */
export interface FaultLogLine {
  /** Names the code and its controller; see `faultKey` of analysis. */
  readonly code: string;
  /** As many as are kept of it. */
  readonly occurrences: number;
  readonly firstMs: number;
  readonly lastSeenMs: number;
  readonly isActive: boolean;
  /** The newest episodes first, at most `episodesOfLine`. */
  readonly episodes: readonly FaultEpisode[];
}

/** Episodes that a line of the log shows; all are in `listFaultEpisodes`. */
export const episodesOfLine = 20;

/** `occurrence`: what occurred most often first. `time`: what was seen last first. `first`: what occurred first first. */
export const faultLogSorts = ['occurrence', 'time', 'first'] as const;
export type FaultLogSort = (typeof faultLogSorts)[number];

export interface FaultLogPage {
  readonly machineId: string;
  readonly limit: number;
  readonly sort: FaultLogSort;
  readonly cursor?: string | undefined;
  /** Codes with an episode that reaches into [fromMs, toMs). */
  readonly fromMs?: number | undefined;
  readonly toMs?: number | undefined;
  readonly isActive?: boolean | undefined;
  readonly spn?: number | undefined;
  readonly fmi?: number | undefined;
  readonly sourceAddress?: number | undefined;
}

export interface EpisodeRange {
  readonly machineId: string;
  readonly fromMs: number;
  readonly toMs: number;
}

/** A code that somebody typed in. */
export interface FaultEntry {
  /** Chosen by the caller; the same again is the same entry. */
  readonly id: string;
  readonly notice: FaultNotice;
  readonly note: string | null;
  readonly typedBy: string;
  /** By the wall clock. */
  readonly typedMs: number;
}

/** A row of a fleet's own table of codes, with who wrote it. */
export interface StoredFaultText {
  readonly row: FleetFault;
  readonly changedBy: string;
  readonly changedMs: number;
}

export interface DeratePage {
  readonly machineId: string;
  readonly limit: number;
  readonly cursor?: string | undefined;
  readonly fromMs?: number | undefined;
  readonly toMs?: number | undefined;
}

/** A derate with the newest answer about its origin; null while there is none yet. */
export interface StoredDerate {
  readonly derate: DerateEpisode;
  readonly latest: InquiryRevision | null;
}

/** A machine whose derates are to be inquired into. */
export interface DueInquiry {
  readonly machineId: string;
  /** What changed lies at or after this machine time. */
  readonly fromMs: number;
  /** Changes with everything that makes it due again. */
  readonly seq: number;
}

/**
 * An answer to store. It becomes a new revision when it differs in what matters (`reviseInquiry` of analysis); otherwise the
 * newest revision takes its wording and stays what it is.
 */
export interface NewInquiry {
  readonly inquiry: DerateInquiry;
  /** By the wall clock. */
  readonly madeMs: number;
}

export interface DerateUpdate {
  readonly machineId: string;
  /** Derates as they now stand. */
  readonly derates: readonly DerateEpisode[];
  /** Derates that are none any more. */
  readonly withdrawnIds: readonly string[];
  readonly inquiries: readonly NewInquiry[];
}

export interface FaultStore {
  /** The log of a machine, code by code. */
  listFaultLog(page: FaultLogPage): Promise<Page<FaultLogLine>>;
  /** All episodes that reach into [fromMs, toMs), in order of their starts; at most `mostEpisodes`, the newest then. */
  listFaultEpisodes(range: EpisodeRange): Promise<FaultEpisode[]>;

  /** Machines on which a fault is active, and those with an open finding of kind `inducement-step`. */
  machinesWithActiveFaults(): Promise<string[]>;

  /** Stores a typed code and folds it into the log, in one transaction. False when it was there already. */
  addFaultEntry(entry: FaultEntry): Promise<boolean>;
  /** Typed codes of a machine within [fromMs, toMs), in order of time. */
  listFaultEntries(range: EpisodeRange): Promise<FaultEntry[]>;

  /** The table of the fleet that a machine belongs to; that of the fleet `main` for an unknown machine. */
  machineFaultTexts(machineId: string): Promise<FleetFaultTable>;
  listFaultTexts(fleetId: string): Promise<StoredFaultText[]>;
  /** Replaces the whole table of a fleet. */
  putFaultTexts(
    fleetId: string,
    put: { readonly table: FleetFaultTable; readonly name: string; readonly atMs: number },
  ): Promise<void>;

  listDerates(page: DeratePage): Promise<Page<StoredDerate>>;
  /** null for one that there never was; one that was withdrawn is still found. */
  getDerate(derateId: string): Promise<(StoredDerate & { readonly isWithdrawn: boolean }) | null>;
  /** All answers about a derate, the first first. */
  listInquiries(derateId: string): Promise<InquiryRevision[]>;

  /** Takes machines that are due; nobody else gets them for `leaseMs`. What is never settled comes again. */
  takeDueInquiries(limit: number, leaseMs: number): Promise<DueInquiry[]>;
  /** Stores derates and answers, in one transaction; says how many answers were new. */
  updateDerates(update: DerateUpdate): Promise<{ readonly revisions: number }>;
  /** Ends the lease; the machine stays due when something happened since it was taken. */
  settleDueInquiry(due: DueInquiry): Promise<void>;
  /** Makes all derates of a machine due from the beginning, such as after a change of the fleet's words. */
  requestInquiry(machineId: string): Promise<void>;

  /** Secret that neutral labels of masked reports are made with; the same as long as the database lives. */
  maskKey(): Promise<string>;
}
