/** From the analysis' own faults, derates and inquiries to the documents that go out. */

import {
  type DerateEpisode,
  type DerateInquiry,
  describeFault,
  type FaultEpisode,
  type FleetFaultTable,
  type InducementClock,
  type InquiryRevision,
  type OriginCandidate,
} from '@warmbrick/analysis';
import type {
  DerateDetail,
  DerateDocument,
  EvidenceDocument,
  FaultEpisodeDocument,
  FaultLine,
  InducementClockDocument,
  InquiryDocument,
  OriginDocument,
} from './http-faults.js';
import { toInstant } from './to-document.js';

const instantOrNull = (timeMs: number | null) => (timeMs === null ? null : toInstant(timeMs));

interface Code {
  readonly spn: number;
  readonly fmi: number;
  readonly sourceAddress: number | null;
}

/** A code in words. Missing: a number without words says so in `wordsFrom`. */
export function codeWords({ spn, fmi, sourceAddress }: Code, fleetTable: FleetFaultTable = []) {
  const described = describeFault(spn, fmi, fleetTable);
  const { spnText: spnWords, fmiText: fmiWords, isConsequence, inducementClass, isManufacturer } = described;
  const wordsFrom: FaultLine['wordsFrom'] =
    described.fleetFault !== null
      ? 'fleet'
      : described.known !== null
        ? 'standard'
        : isManufacturer
          ? 'maker-range'
          : 'unknown';
  return { spn, fmi, sourceAddress, spnWords, fmiWords, wordsFrom, isConsequence, inducementClass };
}

/** One time that a code was active. */
export function toEpisodeDocument(episode: FaultEpisode): FaultEpisodeDocument {
  const { id, startedMs, endedMs, endedBy, lastSeenMs, origin, isPreviouslyActiveOnly } = episode;
  return {
    id,
    startedAt: toInstant(startedMs),
    endedAt: instantOrNull(endedMs),
    endedBy,
    lastSeenAt: toInstant(lastSeenMs),
    origin,
    isPreviouslyActiveOnly,
  };
}

/** What a line of the log is made of: all that is known of one code of one controller. */
export interface FaultLineParts {
  readonly code: string;
  readonly occurrences: number;
  readonly firstMs: number;
  readonly lastSeenMs: number;
  readonly isActive: boolean;
  /** The newest first, at least one. */
  readonly episodes: readonly FaultEpisode[];
}

/** A line of the fault log. */
export function toFaultLine(parts: FaultLineParts, fleetTable: FleetFaultTable = []): FaultLine {
  const { code, occurrences, firstMs, lastSeenMs, isActive, episodes } = parts;
  const newest = episodes[0] as FaultEpisode;
  return {
    code,
    ...codeWords(newest, fleetTable),
    conversionMethod: newest.conversionMethod,
    occurrences,
    reportedCount: newest.reportedCount,
    firstAt: toInstant(firstMs),
    lastAt: toInstant(lastSeenMs),
    isActive,
    lamps: { ...newest.lamps },
    flash: newest.flash,
    episodes: episodes.map(toEpisodeDocument),
  };
}

/** A derate without what was found out about it. */
export function toDerateDocument(derate: DerateEpisode): DerateDocument {
  const { findingIds: _findings, codeIds: _codes, startedMs, endedMs, signs, ...rest } = derate;
  return { ...rest, startedAt: toInstant(startedMs), endedAt: instantOrNull(endedMs), signs: [...signs] };
}

/** An answer; `faults` tell when the candidates ended. */
export function toInquiryDocument(
  inquiry: DerateInquiry,
  faults: readonly Pick<FaultEpisode, 'id' | 'endedMs'>[],
  fleetTable: FleetFaultTable = [],
): InquiryDocument {
  const ends = new Map(faults.map(({ id, endedMs }) => [id, endedMs]));
  const { verdict, confidence, summary, origins, checkFirst, doNot, suspectSensors, notes } = inquiry;
  return {
    verdict,
    confidence,
    summary,
    origins: origins.map((origin) => toOriginDocument(origin, ends.get(origin.faultId) ?? null, fleetTable)),
    checkFirst: [...checkFirst],
    doNot: [...doNot],
    suspectSensors: suspectSensors.map((sensor) => ({ ...sensor })),
    notes: notes.map(toEvidenceDocument),
  };
}

function toOriginDocument(
  origin: OriginCandidate,
  endedMs: number | null,
  fleetTable: FleetFaultTable,
): OriginDocument {
  const { faultId, startedMs, rank, likelihood, isOrigin, evidence } = origin;
  return {
    faultId,
    ...codeWords(origin, fleetTable),
    startedAt: toInstant(startedMs),
    endedAt: instantOrNull(endedMs),
    rank,
    likelihood,
    isOrigin,
    evidence: evidence.map(toEvidenceDocument),
  };
}

function toEvidenceDocument({ kind, text, supports, figures }: DerateInquiry['notes'][number]): EvidenceDocument {
  return { kind, text, supports, figures: { ...figures } };
}

/** The history of an answer, without the answers themselves. */
export function toRevisionDocument({
  revision,
  madeMs,
  changes,
  inquiry,
}: InquiryRevision): DerateDetail['history'][number] {
  const { verdict, summary } = inquiry;
  return { revision, madeAt: toInstant(madeMs), changes: [...changes], verdict, summary };
}

/** An inducement clock. */
export function toClockDocument(clock: InducementClock): InducementClockDocument {
  const { scheduleId, title, source, fromMemory, caution, lines } = clock;
  return {
    scheduleId,
    title,
    source,
    fromMemory,
    caution,
    lines: lines.map(({ next: _next, startedMs, faultIds, steps, ...line }) => ({
      ...line,
      faultIds: [...faultIds],
      startedAt: toInstant(startedMs),
      steps: steps.map((step) => ({ ...step })),
    })),
  };
}
