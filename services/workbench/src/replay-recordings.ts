/** Replays recordings through the analysis: the same code as live, fed from files. */

import {
  type Analyzer,
  analysedChannels,
  createAnalyzer,
  type Finding,
  type ResidencyRow,
  type ThresholdSet,
} from '@warmbrick/analysis';
import { type MachineReport, type ReplayDocument, toMachineReport } from '@warmbrick/contracts';
import { DamagedRecordingError, type ReadOptions, type ReadReport, readInOrder } from '@warmbrick/recordings';
import type { FaultReport, SampleBlock } from '@warmbrick/signals';
import { createFaultBook, type FaultBook } from './fault-book.js';
import type { ProfileBook } from './profile-book.js';

export interface ReplayInput {
  readonly paths: readonly string[];
  readonly profiles: ProfileBook;
  readonly thresholds: ThresholdSet;
  readonly reading: ReadOptions;
  /** Called now and then with the number of samples analysed. */
  readonly onProgress?: (samples: number) => void;
  /** Gets every residency row; for pictures of the day. */
  readonly onRow?: (machineId: string, row: ResidencyRow) => void;
}

export interface ReplayOutcome {
  readonly document: ReplayDocument;
  /** What was wrong with a file of which everything before the damage was analysed; null when nothing was. */
  readonly damage: DamagedRecordingError | null;
}

interface Machine {
  readonly analyzer: Analyzer;
  readonly findings: Map<string, Finding>;
  readonly faults: FaultBook;
}

/**
 * Analyses recordings and returns the replay document.
 *
 * Errors: OperatingError for input that gives nothing at all. The order of machines in the document is by name.
 */
export async function replayRecordings(input: ReplayInput): Promise<ReplayOutcome> {
  const machines = new Map<string, Machine>();
  let samples = 0;
  const sink = {
    block(block: SampleBlock) {
      take(machineOf(machines, input, block.machineId), block, input);
      samples += block.timeMs.length;
      input.onProgress?.(samples);
    },
    faults(reports: readonly FaultReport[]) {
      for (const report of reports) machineOf(machines, input, report.machineId).faults.add(report);
    },
    restart() {
      machines.clear();
      samples = 0;
    },
  };
  const reading = { channels: analysedChannels, lendBlocks: true, ...input.reading };
  const { report, damage } = await read(input.paths, reading, sink);
  return { document: documentOf(machines, report), damage };
}

async function read(
  paths: readonly string[],
  options: ReadOptions,
  sink: Parameters<typeof readInOrder>[2],
): Promise<{ report: ReadReport; damage: DamagedRecordingError | null }> {
  try {
    return { report: await readInOrder(paths, options, sink), damage: null };
  } catch (error) {
    if (error instanceof DamagedRecordingError) return { report: error.report, damage: error };
    throw error;
  }
}

function machineOf(machines: Map<string, Machine>, input: ReplayInput, machineId: string): Machine {
  const known = machines.get(machineId);
  if (known !== undefined) return known;
  const profile = input.profiles.profileOf(machineId);
  const machine = {
    analyzer: createAnalyzer({ machineId, profile, thresholds: input.thresholds }),
    findings: new Map<string, Finding>(),
    faults: createFaultBook(),
  };
  machines.set(machineId, machine);
  return machine;
}

function take(machine: Machine, block: SampleBlock, input: ReplayInput): void {
  const result = machine.analyzer.push(block);
  for (const finding of result.findings) machine.findings.set(finding.id, finding);
  if (input.onRow !== undefined) for (const row of result.rows) input.onRow(block.machineId, row);
}

function documentOf(machines: ReadonlyMap<string, Machine>, report: ReadReport): ReplayDocument {
  const reports: MachineReport[] = [];
  for (const [machineId, machine] of [...machines].sort(([a], [b]) => (a < b ? -1 : 1))) {
    const summary = machine.analyzer.summary();
    if (summary === null) continue;
    const extras = { faultCodes: machine.faults.codes(), unusable: unusableOf(report, machineId) };
    reports.push(toMachineReport(summary, [...machine.findings.values()], extras));
  }
  const { samples, duplicates, conflicts, wasSorted, frames, incompleteTransfers, warnings, rejects } = report;
  return {
    machines: reports,
    reading: { samples, duplicates, conflicts, wasSorted, frames, incompleteTransfers, warnings: [...warnings] },
    rejects: {
      count: rejects.count,
      byReason: { ...rejects.byReason } as Record<string, number>,
      examples: rejects.examples.map((example) => ({ ...example })),
    },
  };
}

function unusableOf(report: ReadReport, machineId: string): Record<string, Record<string, number>> {
  return { ...report.unusable[machineId] } as Record<string, Record<string, number>>;
}
