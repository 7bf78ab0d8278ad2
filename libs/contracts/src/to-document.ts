/** From the analysis' own types to the documents that go out: times as RFC 3339. */

import type { Finding, LoadOutlook, MachineSummary, RiskScore } from '@warmbrick/analysis';
import type { FindingDocument, LoadDocument, MachineReport, ScoreDocument } from './replay-document.js';

/**
 * An instant as RFC 3339 in UTC with milliseconds.
 *
 * Range: years 1970 to 2100, as everything that was taken in.
 */
export function toInstant(atMs: number): string {
  return new Date(atMs).toISOString();
}

/** A finding with its times as RFC 3339. */
export function toFindingDocument(finding: Finding): FindingDocument {
  return {
    id: finding.id,
    machineId: finding.machineId,
    kind: finding.kind,
    startedAt: toInstant(finding.startedMs),
    endedAt: finding.endedMs === null ? null : toInstant(finding.endedMs),
    severity: finding.severity,
    values: { ...finding.values },
    evidence: { ...finding.evidence },
    thresholdSet: finding.thresholdSet,
  };
}

/** A score, or null for a machine that was not seen running. */
export function toScoreDocument(score: RiskScore | null): ScoreDocument | null {
  return score === null ? null : { ...score, parts: { ...score.parts }, missing: [...score.missing] };
}

/** An outlook, or null for a machine that was not seen running. Missing: what an older summary did not have is unknown. */
export function toLoadDocument(load: LoadOutlook | null): LoadDocument | null {
  return load === null ? null : { ...olderLoad, ...load };
}

const olderLoad = { isDepositMeasured: false, wayToLimit: 'unknown' } as const;

/** DEF, NOx and suspect sensors. Missing: what an older summary did not have is not known. */
export function toOutlookDocuments(
  summary: Partial<Pick<MachineSummary, 'def' | 'noxBins' | 'suspectChannels'>>,
): Pick<MachineReport, 'def' | 'noxBins' | 'suspectChannels'> {
  return {
    def: summary.def === null || summary.def === undefined ? null : { ...summary.def },
    noxBins: (summary.noxBins ?? []).map((bin) => ({ ...bin })),
    suspectChannels: [...(summary.suspectChannels ?? [])],
  };
}

/** What a report adds to summary and findings. */
export type ReportExtras = Pick<MachineReport, 'unusable' | 'faultCodes'>;

/** The report of one machine; findings in order of time, then kind. */
export function toMachineReport(
  summary: MachineSummary,
  findings: readonly Finding[],
  extras: ReportExtras,
): MachineReport {
  const { fromMs, toMs, coverageRatio } = summary.observed;
  const inOrder = [...findings].sort((a, b) => a.startedMs - b.startedMs || compareText(a.kind, b.kind));
  return {
    machineId: summary.machineId,
    observed: { from: toInstant(fromMs), to: toInstant(toMs), coverageRatio },
    residency: { ...summary.residency },
    load: toLoadDocument(summary.load),
    score: toScoreDocument(summary.score),
    ...toOutlookDocuments(summary),
    findings: inOrder.map(toFindingDocument),
    histogramS: [...summary.histogramS],
    exhaustSourceS: { ...summary.exhaustSourceS },
    longestIdleS: summary.longestIdleS,
    mode: summary.mode,
    ...extras,
  };
}

function compareText(a: string, b: string): number {
  return a < b ? -1 : a > b ? 1 : 0;
}
