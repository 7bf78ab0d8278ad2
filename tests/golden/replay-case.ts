/** Replays the recordings of a case into the document that a replay gives. */

import { type Analyzer, builtInThresholds, createAnalyzer, type Finding } from '@warmbrick/analysis';
import {
  type FindingDocument,
  type MachineReport,
  type ReplayDocument,
  replayDocumentSchema,
} from '@warmbrick/contracts';
import { type ReadReport, readInOrder } from '@warmbrick/recordings';
import { machineProfileSchema } from '@warmbrick/signals';
import type { CaseFile } from './case-file.js';

interface Replayed {
  readonly analyzer: Analyzer;
  readonly findings: Map<string, Finding>;
}

export interface ReplayedCase {
  readonly document: ReplayDocument;
  readonly report: ReadReport;
}

/**
 * The whole answer for some recordings of a folder, with the machines' profiles of its case file.
 *
 * Shapes: machines by name, findings by start and kind. Errors: throws when the document breaks its own schema.
 */
export async function replayCase(
  folder: string,
  files: readonly string[],
  caseFile: Pick<CaseFile, 'machines'>,
): Promise<ReplayedCase> {
  const machines = new Map<string, Replayed>();
  const report = await readInOrder(
    files.map((file) => `${folder}${file}`),
    {},
    {
      block: (block) => {
        const replayed = machines.get(block.machineId) ?? begin(block.machineId, caseFile);
        machines.set(block.machineId, replayed);
        for (const finding of replayed.analyzer.push(block).findings) replayed.findings.set(finding.id, finding);
      },
      restart: () => machines.clear(),
    },
  );
  const ids = [...machines.keys()].sort();
  const document = {
    machines: ids.map((id) => toReport(id, machines.get(id) as Replayed, report)),
    rejects: {
      count: report.rejects.count,
      byReason: report.rejects.byReason,
      examples: report.rejects.examples.map(({ reason, where, detail }) => ({ reason, where, detail })),
    },
  };
  return { document: replayDocumentSchema.parse(document), report };
}

function begin(machineId: string, caseFile: Pick<CaseFile, 'machines'>): Replayed {
  const profile = caseFile.machines[machineId] ?? machineProfileSchema.parse({});
  return { analyzer: createAnalyzer({ machineId, profile, thresholds: builtInThresholds }), findings: new Map() };
}

function toReport(machineId: string, replayed: Replayed, report: ReadReport): MachineReport {
  const summary = replayed.analyzer.summary();
  if (summary === null) throw new Error(`${machineId} was replayed without a sample`);
  const { observed, score, residency, histogramS, exhaustSourceS, longestIdleS, mode } = summary;
  return {
    machineId,
    observed: { from: iso(observed.fromMs), to: iso(observed.toMs), coverageRatio: observed.coverageRatio },
    residency,
    histogramS: [...histogramS],
    exhaustSourceS: { ...exhaustSourceS },
    longestIdleS,
    mode,
    score: score === null ? null : { ...score, parts: { ...score.parts }, missing: [...score.missing] },
    findings: [...replayed.findings.values()].sort(byStartAndKind).map(toFindingDocument),
    unusable: structuredClone(report.unusable[machineId] ?? {}) as MachineReport['unusable'],
  };
}

function toFindingDocument(finding: Finding): FindingDocument {
  return {
    id: finding.id,
    machineId: finding.machineId,
    kind: finding.kind,
    startedAt: iso(finding.startedMs),
    endedAt: finding.endedMs === null ? null : iso(finding.endedMs),
    severity: finding.severity,
    values: { ...finding.values },
    evidence: { ...finding.evidence },
    thresholdSet: finding.thresholdSet,
  };
}

function byStartAndKind(a: Finding, b: Finding): number {
  return a.startedMs - b.startedMs || (a.kind < b.kind ? -1 : 1);
}

function iso(timeMs: number): string {
  return new Date(timeMs).toISOString();
}
