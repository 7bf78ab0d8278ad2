/** Re-runs a machine's archive from its beginning and compares the answer with what is stored. */

import {
  type Analyzer,
  analysedChannels,
  createScheduledAnalyzer,
  type Finding,
  kindsBesideSamples,
  type ResidencyRow,
  type ThresholdSet,
} from '@warmbrick/analysis';
import { OperatingError } from '@warmbrick/runtime';
import type { Store, StoredMachine } from '@warmbrick/store';
import { storedSchedule } from '../thresholds/stored-schedule.js';
import { dayChain, firstDifferentDay } from './day-chain.js';
import { type Difference, firstDifference } from './first-difference.js';
import type { Results, Span } from './results.js';

export interface MachineAudit {
  readonly machineId: string;
  readonly isEqual: boolean;
  /** Samples run again. */
  readonly samples: number;
  /** Rows and findings compared. */
  readonly rows: number;
  readonly findings: number;
  readonly days: number;
  /** The last hash of the re-run's chain of days; null when no day had anything. */
  readonly chain: string | null;
  /** The first day, UTC, on which the stored chain parts from the re-run's; null when no day does. */
  readonly firstDay: string | null;
  readonly firstDifference: Difference | null;
}

export interface AuditOptions {
  readonly store: Store;
  readonly thresholds: ThresholdSet;
  /** Rows and findings that start in it are compared; the re-run always begins with the archive. */
  readonly span: Span;
  readonly onProgress?: (samples: number) => void;
}

/** Archive read at a time: a day at a sample a second is 100 thousand samples. */
const sliceMs = 86_400_000;
/** Findings of one page. */
const pageItems = 1000;
/** How often a machine that goes on meanwhile is caught up with. Source: engineering judgement. */
const maxCatchUps = 20;

interface Rerun {
  readonly analyzer: Analyzer;
  readonly rows: Map<number, ResidencyRow>;
  readonly findings: Map<string, Finding>;
  samples: number;
  /** Time of the first archived sample. */
  firstMs: number | null;
  /** Everything before it is analysed. */
  doneMs: number;
}

/**
 * Audits one machine.
 *
 * A machine that is being written to is caught up with, since a comparison only counts when nothing moved meanwhile.
 * Errors: OperatingError `machine-busy` when it never stands still long enough, and those of the store.
 */
export async function auditMachine(machineId: string, options: AuditOptions): Promise<MachineAudit> {
  const { store, span } = options;
  for (let rerun: Rerun | null = null, turn = 0; turn < maxCatchUps; turn++) {
    const machine = await seen(store, machineId);
    rerun ??= await startRerun(store, machine, options.thresholds);
    await runOn(rerun, machine, options);
    const stored = await readStored(store, machine, span);
    const after = await seen(store, machineId);
    const again: Results = { summary: rerun.analyzer.summary(), rows: rerun.rows, findings: rerun.findings };
    const audit = compare({ machine, stored, again, rerun, options });
    if (audit.isEqual) return audit;
    const hasMoved = JSON.stringify(after.summary) !== JSON.stringify(machine.summary);
    if (!hasMoved) return audit;
    // Late samples may have changed the past; then only a fresh run tells.
    if (after.lastSampleMs === machine.lastSampleMs) rerun = null;
  }
  throw new OperatingError(`The machine was written to during all of ${maxCatchUps} comparisons.`, {
    code: 'machine-busy',
    where: machineId,
    isRetriable: true,
    remedy: 'Audit it up to an earlier time with --to, or while nothing is taken in.',
  });
}

async function seen(store: Store, machineId: string): Promise<StoredMachine> {
  const machine = await store.getMachine(machineId);
  if (machine !== null) return machine;
  throw new OperatingError('Nothing is stored of this machine.', {
    code: 'machine-absent',
    where: machineId,
    remedy: 'Leave --machine out to audit all machines and see their names.',
  });
}

/** With the sets that were promoted for the machine, each from its time on. */
async function startRerun(
  store: Store,
  { machineId, profile }: StoredMachine,
  thresholds: ThresholdSet,
): Promise<Rerun> {
  const schedule = await storedSchedule(store, { machineId, profile }, thresholds);
  const analyzer = createScheduledAnalyzer({ machineId, profile, thresholds, schedule });
  return { analyzer, rows: new Map(), findings: new Map(), samples: 0, firstMs: null, doneMs: -1 };
}

/** Analyses the archive from where the re-run stands up to what the machine's summary has seen. */
async function runOn(rerun: Rerun, { machineId, summary }: StoredMachine, options: AuditOptions): Promise<void> {
  const { fromMs: observedFromMs, toMs: observedToMs } = summary.observed;
  const endMs = observedToMs + 1;
  // Samples before what was observed would be a difference too, so the first slice begins with time itself.
  let fromMs = Math.max(0, rerun.doneMs);
  while (fromMs < endMs) {
    const toMs = Math.min(endMs, Math.max(fromMs, observedFromMs) + sliceMs);
    const range = { machineId, fromMs, toMs, channels: analysedChannels };
    for (const block of await options.store.readSamples(range)) {
      rerun.firstMs ??= block.timeMs[0] ?? null;
      const result = rerun.analyzer.push(block);
      for (const row of result.rows) rerun.rows.set(row.startedMs, row);
      for (const finding of result.findings) rerun.findings.set(finding.id, finding);
      rerun.samples += block.timeMs.length;
    }
    options.onProgress?.(rerun.samples);
    fromMs = toMs;
  }
  rerun.doneMs = Math.max(rerun.doneMs, endMs);
}

/** Everything stored of the machine within the span. */
async function readStored(store: Store, { machineId, summary }: StoredMachine, span: Span): Promise<Results> {
  const fromMs = Math.max(0, span.fromMs);
  const rows = (await store.listRows([machineId], fromMs, span.toMs)).get(machineId) ?? [];
  const findings = new Map<string, Finding>();
  for (let cursor: string | null | undefined; cursor !== null; ) {
    const page: Awaited<ReturnType<Store['listFindings']>> = await store.listFindings({
      machineId,
      fromMs,
      toMs: span.toMs,
      limit: pageItems,
      cursor,
    });
    for (const finding of page.items) if (!kindsBesideSamples.includes(finding.kind)) findings.set(finding.id, finding);
    cursor = page.nextCursor;
  }
  return { summary, rows: new Map(rows.map((row) => [row.startedMs, row])), findings };
}

interface Comparison {
  readonly machine: StoredMachine;
  readonly stored: Results;
  readonly again: Results;
  readonly rerun: Rerun;
  readonly options: AuditOptions;
}

function compare({ machine, stored, again, rerun, options }: Comparison): MachineAudit {
  const { span, thresholds } = options;
  const chain = dayChain(again, span);
  const difference =
    thresholdDifference(machine, rerun, thresholds) ??
    archiveDifference(machine, rerun) ??
    firstDifference(stored, again, span);
  return {
    machineId: machine.machineId,
    isEqual: difference === null,
    samples: rerun.samples,
    rows: stored.rows.size,
    findings: stored.findings.size,
    days: chain.length,
    chain: chain.at(-1)?.hash ?? null,
    firstDay: firstDifferentDay(dayChain(stored, span), chain),
    firstDifference: difference,
  };
}

/** Another threshold set gives other findings, and rightly so. */
function thresholdDifference(machine: StoredMachine, rerun: Rerun, thresholds: ThresholdSet): Difference | null {
  const again = rerun.samples > 0 ? rerun.analyzer.snapshot().thresholdSet : thresholds.version;
  if (machine.thresholdSet === again) return null;
  return { kind: 'thresholds', where: 'threshold set', stored: machine.thresholdSet, again };
}

/** When old samples were deleted, the analysis cannot be run from its beginning. */
function archiveDifference(machine: StoredMachine, rerun: Rerun): Difference | null {
  const { fromMs } = machine.summary.observed;
  if (rerun.firstMs !== null && rerun.firstMs <= fromMs) return null;
  const again = rerun.firstMs === null ? null : new Date(rerun.firstMs).toISOString();
  return { kind: 'archive', where: 'first sample', stored: new Date(fromMs).toISOString(), again };
}
