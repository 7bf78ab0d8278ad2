/** The timeline of one machine: samples in any order of arrival, the same answer in the end. */

import { inOrder, mergeBlocks, type SampleBlock, sameSamples, sliceBlock } from '@warmbrick/signals';
import type { Analyzer, AnalyzerSnapshot } from './analyzer-types.js';
import type { Finding } from './finding.js';
import type { ResidencyRow } from './residency-row.js';
import { createScheduledAnalyzer, type ScheduledAnalyzerOptions } from './scheduled-analyzer.js';
import type { MachineSummary } from './summary.js';

export interface KeptSnapshot {
  /** Time of the last sample that it has seen. */
  readonly atMs: number;
  readonly snapshot: AnalyzerSnapshot;
}

/** Where a timeline finds its committed past. */
export interface TimelinePorts {
  /** Archived samples with fromMs < time <= toMs. */
  readArchive(fromMs: number, toMs: number): Promise<readonly SampleBlock[]>;
  /** The newest kept snapshot with atMs < timeMs; null when there is none. */
  snapshotBefore(timeMs: number): Promise<KeptSnapshot | null>;
  /** Ids of findings with emittedMs > atMs. */
  findingIdsSince(atMs: number): Promise<readonly string[]>;
}

/** What accepting a block changed. */
export interface TimelineChange {
  readonly findings: readonly Finding[];
  /** Findings that the re-run no longer makes. */
  readonly withdrawnFindingIds: readonly string[];
  readonly rows: readonly ResidencyRow[];
  /** Samples to archive. */
  readonly samples: readonly SampleBlock[];
  readonly keptSnapshots: readonly KeptSnapshot[];
  /** Rows that start after it and snapshots kept after it are void; null when nothing was rewound. */
  readonly rewoundToMs: number | null;
}

export interface Timeline {
  readonly machineId: string;
  /**
   * Takes samples of any time, unsorted and repeated as they may be. The change must be committed before the next call; if
   * that fails, make a new timeline from what is stored. The change may share memory with the block; the timeline does not.
   */
  accept(block: SampleBlock): Promise<TimelineChange>;
  summary(): MachineSummary | null;
  snapshot(): AnalyzerSnapshot;
}

export interface TimelineOptions extends ScheduledAnalyzerOptions {
  readonly ports: TimelinePorts;
}

/** Machine time between kept snapshots. */
const keptEveryMs = 30 * 60_000;
/**
 * Machine time between snapshots in memory, and how many: disorder of two minutes never asks the archive. They are most of
 * what a machine takes in memory. Source: engineering judgement.
 */
const recentEveryMs = 120_000;
const recentSnapshots = 2;
/** Blocks in memory before they are put together: each column of each has a price of its own. */
const recentBlocksApart = 3;
const dayMs = 86_400_000;
/** Machine time that a re-run reads at once. */
const rerunSliceMs = 6 * 3_600_000;
/** Stands for the time before every sample. */
const beforeAllMs = -1;

/** As JSON, which is one piece of memory where the objects would be hundreds, and is hardly ever read. */
interface RecentSnapshot {
  readonly atMs: number;
  readonly body: string;
}

interface Course {
  readonly options: TimelineOptions;
  analyzer: Analyzer;
  frontMs: number | null;
  /** Snapshots in memory, oldest first, and every sample after the oldest of them. */
  recent: RecentSnapshot[];
  recentBlocks: SampleBlock[];
  /** Those of them that share memory with what was handed in. */
  readonly borrowed: Set<SampleBlock>;
}

interface Draft {
  readonly findings: Map<string, Finding>;
  readonly withdrawn: Set<string>;
  readonly rows: Map<number, ResidencyRow>;
  readonly samples: SampleBlock[];
  readonly keptSnapshots: KeptSnapshot[];
  rewoundToMs: number | null;
}

/**
 * Creates the timeline of one machine.
 *
 * Samples later than all before are analysed at once. Others rewind: the analysis goes back to the snapshot before them and
 * runs again over what is archived and what is new. Samples that say nothing new change nothing.
 */
export function createTimeline(options: TimelineOptions): Timeline {
  const analyzer = createScheduledAnalyzer(options);
  const frontMs = analyzer.summary()?.observed.toMs ?? null;
  const recent = frontMs === null ? [] : [{ atMs: frontMs, body: JSON.stringify(analyzer.snapshot()) }];
  const course: Course = { options, analyzer, frontMs, recent, recentBlocks: [], borrowed: new Set() };
  return {
    machineId: options.machineId,
    accept: (block) => accept(course, block),
    summary: () => course.analyzer.summary(),
    snapshot: () => course.analyzer.snapshot(),
  };
}

async function accept(course: Course, arrived: SampleBlock): Promise<TimelineChange> {
  const block = inOrder(arrived);
  const draft: Draft = {
    findings: new Map(),
    withdrawn: new Set(),
    rows: new Map(),
    samples: [],
    keptSnapshots: [],
    rewoundToMs: null,
  };
  const { frontMs } = course;
  let late = 0;
  while (frontMs !== null && late < block.timeMs.length && (block.timeMs[late] as number) <= frontMs) late++;
  if (late > 0) await takeLate(course, sliceBlock(block, 0, late), draft);
  if (late < block.timeMs.length) {
    const fresh = sliceBlock(block, late, block.timeMs.length);
    draft.samples.push(fresh);
    advance(course, fresh, draft);
  }
  ownRecentBlocks(course);
  return {
    findings: [...draft.findings.values()],
    withdrawnFindingIds: [...draft.withdrawn].filter((id) => !draft.findings.has(id)),
    rows: [...draft.rows.values()],
    samples: draft.samples,
    keptSnapshots: draft.keptSnapshots,
    rewoundToMs: draft.rewoundToMs,
  };
}

/**
 * Goes back before the late samples and runs again up to where the analysis stood, however long ago that is: never more of
 * the past than a slice is in memory, and others get a turn between slices.
 */
async function takeLate(course: Course, late: SampleBlock, draft: Draft): Promise<void> {
  const firstMs = late.timeMs[0] as number;
  const lastMs = late.timeMs[late.timeMs.length - 1] as number;
  const readPast = pastOf(course);
  const known = await readPast(firstMs - 1, lastMs);
  if (sameSamples(mergeBlocks(late.machineId, [...known, late]).block, mergeBlocks(late.machineId, known).block))
    return;

  draft.samples.push(late);
  const frontMs = course.frontMs as number;
  const base = await baseBefore(course, firstMs);
  const baseMs = base?.atMs ?? beforeAllMs;
  for (const id of await course.options.ports.findingIdsSince(baseMs)) draft.withdrawn.add(id);
  draft.rewoundToMs = baseMs;
  const startMs = base?.atMs ?? Math.min(firstMs, course.analyzer.summary()?.observed.fromMs ?? firstMs) - 1;
  rewindTo(course, base);
  for (let fromMs = startMs; fromMs < frontMs; fromMs += rerunSliceMs) {
    const toMs = Math.min(frontMs, fromMs + rerunSliceMs);
    const past = await readPast(fromMs, toMs);
    const { block } = mergeBlocks(late.machineId, [...past, between(late, fromMs, toMs)]);
    if (block.timeMs.length > 0) advance(course, block, draft);
    ownRecentBlocks(course);
    thinOut(draft, frontMs);
  }
}

/** Of a long re-run, snapshots of each half hour are worth keeping for the last day only, and one a day before. */
function thinOut({ keptSnapshots }: Draft, frontMs: number): void {
  let count = 0;
  let lastDay = -1;
  for (const kept of keptSnapshots) {
    const day = Math.floor(kept.atMs / dayMs);
    if (kept.atMs >= frontMs - dayMs || day !== lastDay) keptSnapshots[count++] = kept;
    lastDay = day;
  }
  keptSnapshots.length = count;
}

/**
 * Reads samples with fromMs < time <= toMs as they are now, also when the course goes back meanwhile: from memory where it
 * reaches back that far, else from the archive.
 */
function pastOf({ recent, recentBlocks, options }: Course) {
  const oldest = recent[0];
  return async (fromMs: number, toMs: number): Promise<readonly SampleBlock[]> => {
    if (oldest === undefined || fromMs < oldest.atMs) return options.ports.readArchive(fromMs, toMs);
    return recentBlocks.map((block) => between(block, fromMs, toMs));
  };
}

async function baseBefore(course: Course, timeMs: number): Promise<KeptSnapshot | null> {
  const recent = course.recent.findLast((kept) => kept.atMs < timeMs);
  if (recent === undefined) return course.options.ports.snapshotBefore(timeMs);
  return { atMs: recent.atMs, snapshot: JSON.parse(recent.body) as AnalyzerSnapshot };
}

function rewindTo(course: Course, base: KeptSnapshot | null): void {
  const { snapshot: _start, ...options } = course.options;
  course.analyzer = createScheduledAnalyzer(base === null ? options : { ...options, snapshot: base.snapshot });
  course.frontMs = base?.atMs ?? null;
  const isInMemory = base !== null && course.recent.some((kept) => kept.atMs === base.atMs);
  const fromStore = base === null ? [] : [{ atMs: base.atMs, body: JSON.stringify(base.snapshot) }];
  course.recent = isInMemory ? course.recent.filter((kept) => kept.atMs <= base.atMs) : fromStore;
  course.recentBlocks = isInMemory
    ? course.recentBlocks.map((block) => between(block, beforeAllMs, base.atMs)).filter((b) => b.timeMs.length > 0)
    : [];
}

/** Analyses samples later than all before, in pieces that end where snapshots are taken. */
function advance(course: Course, block: SampleBlock, draft: Draft): void {
  const length = block.timeMs.length;
  const lastMs = block.timeMs[length - 1] as number;
  const denseFromMs = lastMs - recentSnapshots * recentEveryMs;
  let from = 0;
  while (from < length) {
    const firstMs = block.timeMs[from] as number;
    keep(course, firstMs, { denseFromMs, draft });
    // Each piece has a price of its own, so the last minutes of a block are one: a late sample runs them again as a whole.
    const endMs = Math.min(
      (Math.floor(firstMs / keptEveryMs) + 1) * keptEveryMs,
      firstMs < denseFromMs ? denseFromMs : lastMs + 1,
    );
    let to = from + 1;
    while (to < length && (block.timeMs[to] as number) < endMs) to++;
    const piece = sliceBlock(block, from, to);
    const result = course.analyzer.push(piece);
    for (const finding of result.findings) draft.findings.set(finding.id, finding);
    for (const row of result.rows) draft.rows.set(row.startedMs, row);
    course.frontMs = block.timeMs[to - 1] as number;
    if (course.recent.length > 0) {
      course.recentBlocks.push(piece);
      course.borrowed.add(piece);
    }
    from = to;
  }
}

/** Takes the snapshots that are due before a sample of the given time. */
function keep(course: Course, nextMs: number, due: { denseFromMs: number; draft: Draft }): void {
  const { frontMs, analyzer } = course;
  if (frontMs === null) return;
  const isKeptDue = Math.floor(frontMs / keptEveryMs) !== Math.floor(nextMs / keptEveryMs);
  const isRecentDue =
    nextMs >= due.denseFromMs && Math.floor(frontMs / recentEveryMs) !== Math.floor(nextMs / recentEveryMs);
  if (!isKeptDue && !isRecentDue) return;
  const snapshot = analyzer.snapshot();
  if (isKeptDue) due.draft.keptSnapshots.push({ atMs: frontMs, snapshot });
  if (!isRecentDue) {
    // More than disorder explains comes after it in this block alone.
    course.recent = [];
    course.recentBlocks = [];
    return;
  }
  if (course.recent[course.recent.length - 1]?.atMs === frontMs) return;
  course.recent = [...course.recent, { atMs: frontMs, body: JSON.stringify(snapshot) }].slice(-recentSnapshots);
  const oldestMs = (course.recent[0] as RecentSnapshot).atMs;
  course.recentBlocks = course.recentBlocks.filter((b) => (b.timeMs[b.timeMs.length - 1] as number) > oldestMs);
}

/** Samples of a block with fromMs < time <= toMs; shares memory. */
function between(block: SampleBlock, fromMs: number, toMs: number): SampleBlock {
  let from = 0;
  let to = block.timeMs.length;
  while (from < to && (block.timeMs[from] as number) <= fromMs) from++;
  while (to > from && (block.timeMs[to - 1] as number) > toMs) to--;
  return sliceBlock(block, from, to);
}

/** A caller may reuse its arrays; what is kept in memory is our own. */
function ownRecentBlocks(course: Course): void {
  const { recent, recentBlocks, borrowed } = course;
  const oldestMs = recent[0]?.atMs ?? beforeAllMs;
  if (recentBlocks.length > recentBlocksApart) {
    course.recentBlocks = [copyOf(recentBlocks.map((block) => between(block, oldestMs, Number.POSITIVE_INFINITY)))];
  } else course.recentBlocks = recentBlocks.map((block) => (borrowed.has(block) ? copyOf([block]) : block));
  borrowed.clear();
}

function copyOf(blocks: readonly SampleBlock[]): SampleBlock {
  return mergeBlocks((blocks[0] as SampleBlock).machineId, blocks).block;
}
