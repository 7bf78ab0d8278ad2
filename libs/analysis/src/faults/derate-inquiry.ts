/** What an inquiry into the origin of a derate answers. */

import type { ChannelName } from '@warmbrick/signals';
import type { FindingValue } from '../finding.js';
import type { InducementClass } from './inducement-class.js';

export const evidenceKinds = [
  'precedence',
  'capability',
  'class',
  'schedule',
  'still-active',
  'recurrence',
  'consequence',
  'signal',
  'sensor',
  'clock',
  'coverage',
] as const;
export type EvidenceKind = (typeof evidenceKinds)[number];

export interface Evidence {
  readonly kind: EvidenceKind;
  /** One sentence in plain words. */
  readonly text: string;
  /** Whether it speaks for the fault as the origin; null when it only explains. */
  readonly supports: boolean | null;
  /** The numbers behind it. Units end the names. */
  readonly figures: Readonly<Record<string, FindingValue>>;
}

export interface OriginCandidate {
  /** Id of the fault episode. */
  readonly faultId: string;
  /** Other episodes of the same fault: milder and worse, earlier and later ones. */
  readonly relatedFaultIds: readonly string[];
  readonly spn: number;
  readonly fmi: number;
  readonly sourceAddress: number | null;
  readonly startedMs: number;
  readonly text: string;
  readonly inducementClass: InducementClass | null;
  /** 1 is the likeliest. */
  readonly rank: number;
  /** 0..1; with what is unknown they add up to 1, leaving out those that only follow from another. */
  readonly likelihood: number;
  /** Whether it counts as an origin, not as a runner-up. */
  readonly isOrigin: boolean;
  readonly evidence: readonly Evidence[];
}

/** `several`: independent faults each of which leads to such a derate; `unknown`: nothing recorded explains it well. */
export type InquiryVerdict = 'found' | 'several' | 'unknown';

export interface DerateInquiry {
  readonly derateId: string;
  readonly machineId: string;
  /** By rank; at most `maxCandidates`. */
  readonly origins: readonly OriginCandidate[];
  readonly verdict: InquiryVerdict;
  /** 0..1. */
  readonly confidence: number;
  /** In one sentence. */
  readonly summary: string;
  readonly checkFirst: readonly string[];
  readonly doNot: readonly string[];
  readonly suspectSensors: readonly SuspectSensor[];
  /** What holds for the episode as a whole. */
  readonly notes: readonly Evidence[];
  /** Ids of the schedules that were compared with; those from memory are marked in `notes`. */
  readonly scheduleIds: readonly string[];
}

export interface SuspectSensor {
  readonly channel: ChannelName;
  readonly why: string;
}

/** An answer with when it was given; the history of one derate is a list of them. */
export interface InquiryRevision {
  readonly revision: number;
  readonly madeMs: number;
  readonly inquiry: DerateInquiry;
  /** What is new against the revision before, in words; empty for the first. */
  readonly changes: readonly string[];
}
