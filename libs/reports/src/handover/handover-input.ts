/** What a handover sheet is made from; the same from a store and from recordings. */

import type {
  DerateEpisode,
  FaultEpisode,
  Finding,
  FleetFaultTable,
  InducementClock,
  InquiryRevision,
  ResidencyRow,
  TimeSpan,
} from '@warmbrick/analysis';
import type { ServiceDone } from '@warmbrick/contracts';
import type { MachineProfile, SampleBlock } from '@warmbrick/signals';

/** A derate with all answers about its origin, the newest last. */
export interface InquiredDerate {
  readonly derate: DerateEpisode;
  readonly history: readonly InquiryRevision[];
}

/** A note that somebody typed beside a code. */
export interface CodeNote {
  readonly atMs: number;
  readonly spn: number;
  readonly fmi: number;
  readonly typedBy: string;
  readonly note: string;
}

export interface HandoverInput {
  readonly machineId: string;
  readonly profile: MachineProfile;
  /** Half open; a period that reaches beyond what was observed is cut to it in words, not here. */
  readonly period: TimeSpan;
  readonly madeAtMs: number;
  /** Name and version of the program. */
  readonly software: string;
  readonly thresholdSet: string;
  /** The neutral label that stands for the machine; null shows its identity. */
  readonly maskLabel: string | null;
  readonly observed: { readonly fromMs: number; readonly toMs: number; readonly coverageRatio: number } | null;
  /** Every episode that is known of the machine: a code that cleared long ago may still be the one. */
  readonly faults: readonly FaultEpisode[];
  readonly notes: readonly CodeNote[];
  readonly fleetTable: FleetFaultTable;
  /** Those that reach into the period. */
  readonly derates: readonly InquiredDerate[];
  readonly clocks: readonly InducementClock[];
  /** Findings that started in the period. */
  readonly findings: readonly Finding[];
  /** Rows of the period. */
  readonly rows: readonly ResidencyRow[];
  /** Counter at both ends of the period; null where it is not sent. */
  readonly engineHours: { readonly from: number | null; readonly to: number | null };
  /** null where no service ledger is kept. */
  readonly service: readonly ServiceDone[] | null;
  /** What the maker of the input could not get, in sentences. */
  readonly limits?: readonly string[];
}

/** Samples of the machine within a span; more than asked for does no harm. */
export type ReadWindow = (span: TimeSpan) => Promise<readonly SampleBlock[]>;
