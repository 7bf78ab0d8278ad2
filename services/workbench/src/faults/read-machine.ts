/** Recordings -> what is known of one machine: findings, fault episodes, derates and where they came from. */

import {
  analysedChannels,
  builtInSchedules,
  createAnalyzer,
  type DerateEpisode,
  derateEpisodes,
  type FaultEpisode,
  type Finding,
  faultEpisodeId,
  foldFaults,
  initialFaultLog,
  inquireOrigin,
  inquiryWindows,
  joinedSpans,
  type MachineSummary,
  plausibleTimesMs,
  type ResidencyRow,
  schedulesInForce,
  type ThresholdSet,
  type TimeSpan,
} from '@warmbrick/analysis';
import { DamagedRecordingError, type ReadOptions, readInOrder } from '@warmbrick/recordings';
import type { InquiredDerate } from '@warmbrick/reports';
import { OperatingError } from '@warmbrick/runtime';
import { type FaultReport, type MachineProfile, mergeBlocks, type SampleBlock, sliceBlock } from '@warmbrick/signals';

export interface MachineInput {
  readonly paths: readonly string[];
  /** null takes the only machine there is. */
  readonly machineId: string | null;
  readonly reading: ReadOptions;
  readonly profileOf: (machineId: string) => MachineProfile;
  readonly thresholds: ThresholdSet;
  readonly onProgress?: (samples: number) => void;
}

/** A machine as its recordings tell of it. */
export interface RecordedMachine {
  readonly machineId: string;
  readonly profile: MachineProfile;
  readonly findings: readonly Finding[];
  readonly rows: readonly ResidencyRow[];
  readonly faults: readonly FaultEpisode[];
  readonly summary: MachineSummary | null;
  /** Readings of the hour counter by time, thinned out. */
  readonly hours: readonly { readonly timeMs: number; readonly engineHours: number }[];
  /** What was wrong with a file of which everything before the damage was read; null when nothing was. */
  readonly damage: DamagedRecordingError | null;
}

/** Reports of one machine at most; a bus repeats its lists once a minute. Source: engineering judgement: a year. */
const mostReports = 1_000_000;
/** Readings of the counter are kept this far apart, ms. Source: engineering judgement. */
const hoursEveryMs = 10 * 60_000;

/** Mutable while files are read. */
interface Notes {
  readonly analyzers: Map<string, ReturnType<typeof createAnalyzer>>;
  readonly findings: Map<string, Finding>;
  readonly rows: Map<number, ResidencyRow>;
  readonly reports: FaultReport[];
  readonly hours: { timeMs: number; engineHours: number }[];
  readonly machineIds: Set<string>;
}

/**
 * Reads recordings once and says what is known of one machine.
 *
 * Errors: those of the recordings; OperatingError `machine-absent` for a machine that is not in them, or when they hold
 * several and none was named.
 */
export async function readMachine(input: MachineInput): Promise<RecordedMachine> {
  const notes: Notes = {
    analyzers: new Map(),
    findings: new Map(),
    rows: new Map(),
    reports: [],
    hours: [],
    machineIds: new Set(),
  };
  let samples = 0;
  const damage = await readThrough(input, {
    block: (block) => {
      takeBlock(notes, input, block);
      samples += block.timeMs.length;
      input.onProgress?.(samples);
    },
    faults: (reports) => takeReports(notes, input, reports),
    restart: () => {
      for (const kept of [notes.analyzers, notes.findings, notes.rows, notes.machineIds]) kept.clear();
      notes.reports.length = 0;
      notes.hours.length = 0;
      samples = 0;
    },
  });
  const machineId = chosenMachine(notes, input);
  return {
    machineId,
    profile: input.profileOf(machineId),
    findings: [...notes.findings.values()].sort((a, b) => a.startedMs - b.startedMs),
    rows: [...notes.rows.values()],
    faults: foldAtAnyTime(notes.reports),
    summary: notes.analyzers.get(machineId)?.summary() ?? null,
    hours: notes.hours,
    damage,
  };
}

async function readThrough(
  { paths, reading }: MachineInput,
  sink: Parameters<typeof readInOrder>[2],
): Promise<DamagedRecordingError | null> {
  try {
    await readInOrder(paths, reading, sink);
    return null;
  } catch (error) {
    if (error instanceof DamagedRecordingError) return error;
    throw error;
  }
}

function isWanted({ machineIds }: Notes, wanted: string | null, machineId: string): boolean {
  machineIds.add(machineId);
  return wanted === null ? machineIds.size === 1 : machineId === wanted;
}

function takeBlock(notes: Notes, input: MachineInput, block: SampleBlock): void {
  const { machineId } = block;
  if (!isWanted(notes, input.machineId, machineId)) return;
  const options = { machineId, profile: input.profileOf(machineId), thresholds: input.thresholds };
  const analyzer = notes.analyzers.get(machineId) ?? createAnalyzer(options);
  notes.analyzers.set(machineId, analyzer);
  const result = analyzer.push(block);
  for (const finding of result.findings) notes.findings.set(finding.id, finding);
  for (const row of result.rows) notes.rows.set(row.startedMs, row);
  const hours = block.channels.engineHours;
  for (let i = 0; hours !== undefined && i < hours.length; i++) {
    const timeMs = block.timeMs[i] as number;
    const engineHours = hours[i] as number;
    if (Number.isNaN(engineHours) || timeMs - (notes.hours.at(-1)?.timeMs ?? Number.NEGATIVE_INFINITY) < hoursEveryMs)
      continue;
    notes.hours.push({ timeMs, engineHours });
  }
}

function takeReports(notes: Notes, input: MachineInput, reports: readonly FaultReport[]): void {
  for (const report of reports) {
    if (!isWanted(notes, input.machineId, report.machineId) || notes.reports.length >= mostReports) continue;
    notes.reports.push(report);
  }
}

function chosenMachine({ machineIds }: Notes, { machineId, paths }: MachineInput): string {
  const ids = [...machineIds].sort();
  const chosen = machineId ?? ids[0];
  if (chosen !== undefined && machineIds.has(chosen) && (machineId !== null || ids.length === 1)) return chosen;
  const what = machineId === null ? `the recordings hold ${ids.length} machines` : `there is no machine "${machineId}"`;
  throw new OperatingError(`${what}: ${ids.slice(0, 12).join(', ')}.`, {
    code: 'machine-absent',
    where: paths.join(', '),
    remedy: 'Name one of these with --only.',
  });
}

/**
 * Folds reports of logs whose times only count from their beginning: such times are no dates, and a log that is kept for years
 * takes them for those of a clock that was never set.
 */
function foldAtAnyTime(reports: readonly FaultReport[]): readonly FaultEpisode[] {
  const isDated = reports.every(({ timeMs }) => timeMs >= plausibleTimesMs.from);
  if (isDated) return foldFaults(initialFaultLog, reports).episodes;
  const shiftMs = plausibleTimesMs.from;
  const shifted = reports.map((report) => ({ ...report, timeMs: report.timeMs + shiftMs }));
  return foldFaults(initialFaultLog, shifted).episodes.map((episode) => {
    const startedMs = episode.startedMs - shiftMs;
    return {
      ...episode,
      id: faultEpisodeId(episode.machineId, episode, startedMs),
      startedMs,
      endedMs: episode.endedMs === null ? null : episode.endedMs - shiftMs,
      lastSeenMs: episode.lastSeenMs - shiftMs,
    };
  });
}

/** Samples of the machine within spans, read from the recordings again; everything outside is dropped at once. */
export async function readSpans(
  input: MachineInput,
  machineId: string,
  spans: readonly TimeSpan[],
): Promise<readonly SampleBlock[]> {
  const wanted = joinedSpans(spans);
  const last = wanted.at(-1);
  if (last === undefined) return [];
  const kept: SampleBlock[] = [];
  await readThrough(input, {
    block: (block) => {
      if (block.machineId !== machineId) return;
      for (const span of wanted) kept.push(...cut(block, span));
    },
    restart: () => {
      kept.length = 0;
    },
  });
  return kept;
}

/** The part of a block within a span, with arrays of its own. */
function cut(block: SampleBlock, { fromMs, toMs }: TimeSpan): SampleBlock[] {
  const { timeMs } = block;
  let from = 0;
  let to = timeMs.length;
  while (from < to && (timeMs[from] as number) < fromMs) from++;
  while (to > from && (timeMs[to - 1] as number) >= toMs) to--;
  return from === to ? [] : [mergeBlocks(block.machineId, [sliceBlock(block, from, to)]).block];
}

/** Derates of a recorded machine. */
export function recordedDerates({ findings, faults, profile }: RecordedMachine): DerateEpisode[] {
  return derateEpisodes(findings, faults, { profile });
}

/** Spans whose samples an inquiry into these derates hears. */
export function spansOfInquiries(derates: readonly DerateEpisode[], faults: readonly FaultEpisode[]): TimeSpan[] {
  return derates.flatMap((derate) => inquiryWindows(derate, faults));
}

/** Inquires into derates, with the samples of `spansOfInquiries`. */
export function inquireRecorded(
  { findings, faults, profile, hours }: RecordedMachine,
  derates: readonly DerateEpisode[],
  samples: readonly SampleBlock[],
): InquiredDerate[] {
  return derates.map((derate) => {
    const schedules = schedulesInForce(builtInSchedules, derate.startedMs);
    const inquiry = inquireOrigin({ derate, faults, samples, findings, profile, schedules, engineHours: hours });
    return { derate, history: [{ revision: 1, madeMs: derate.startedMs, inquiry, changes: [] }] };
  });
}

/** Channels that a handover needs: those of the analysis. */
export const handoverChannels = analysedChannels;
