/** Runs one recording through an analyzer and collects what is left of it. */

import {
  builtInThresholds,
  createAnalyzer,
  type Finding,
  type FindingKind,
  type MachineSummary,
  type ResidencyRow,
} from '@warmbrick/analysis';
import { type MachineProfileInput, machineProfileSchema, type SampleBlock } from '@warmbrick/signals';

export interface Analysis {
  readonly findings: Finding[];
  readonly rows: ResidencyRow[];
  readonly summary: MachineSummary;
  of(kind: FindingKind): Finding[];
}

export function analyse(blocks: SampleBlock | readonly SampleBlock[], profile: MachineProfileInput = {}): Analysis {
  const list = Array.isArray(blocks) ? (blocks as readonly SampleBlock[]) : [blocks as SampleBlock];
  const analyzer = createAnalyzer({
    machineId: 'test-machine',
    profile: machineProfileSchema.parse(profile),
    thresholds: builtInThresholds,
  });
  const findings = new Map<string, Finding>();
  const rows = new Map<number, ResidencyRow>();
  for (const block of list) {
    const result = analyzer.push(block);
    for (const finding of result.findings) findings.set(finding.id, finding);
    for (const row of result.rows) rows.set(row.startedMs, row);
  }
  const found = [...findings.values()];
  return {
    findings: found,
    rows: [...rows.values()],
    summary: analyzer.summary() as MachineSummary,
    of: (kind) => found.filter((finding) => finding.kind === kind),
  };
}

/** What must not depend on how samples arrive: everything but the moment a finding was last made. */
export function comparable(findings: readonly Finding[]): string[] {
  return findings.map(({ emittedMs: _emittedMs, ...rest }) => JSON.stringify(rest)).sort();
}
