/** The shifts of a machine: how it was started, worked, stopped and filled, and what was ticked. */

import { builtInThresholds, type Finding, type FindingKind, shiftReport, thresholdsFor } from '@warmbrick/analysis';
import { type Inspection, inspectionItems, type ShiftDocument, type ShiftList, toInstant } from '@warmbrick/contracts';
import type { InspectionVersion, Store, StoredMachine } from '@warmbrick/store';
import { type BucketBounds, residencyBucketBounds } from '../series/residency-buckets.js';
import { quarterEnd, quarterStart, rowsByStart, sumRows } from '../series/residency-sum.js';

const dayMs = 86_400_000;
/** What a report is made of. */
const kinds: readonly FindingKind[] = ['engine-run', 'early-load', 'hot-shutdown', 'idle-streak', 'def-fill'];
/** Findings of a range that are read at most, and at once. Source: engineering judgement. */
const mostFindings = 5000;
const pageOfFindings = 500;

export interface ShiftRange {
  readonly fromMs: number;
  readonly toMs: number;
}

/** All shifts that overlap the range and have begun, newest first. */
export async function machineShifts(store: Store, machine: StoredMachine, range: ShiftRange): Promise<ShiftList> {
  const { machineId, profile, lastSampleMs, summary } = machine;
  const buckets = residencyBucketBounds({ bucket: 'shift', profile, ...range });
  const firstMs = Math.min(range.fromMs, ...buckets.map(({ startMs }) => startMs));
  const lastMs = Math.max(range.toMs, ...buckets.map(({ endMs }) => endMs));
  const rows = rowsByStart((await store.listRows([machineId], quarterStart(firstMs), lastMs)).get(machineId) ?? []);
  const findings = await findingsOf(store, machineId, { fromMs: firstMs - dayMs, toMs: lastMs });
  const inspections = await store.listInspections(machineId, firstMs, lastMs);
  const levels = await levelsOf(store, machineId, { fromMs: firstMs, toMs: Math.min(lastMs, lastSampleMs + 1) });
  const { cooldownWantedS } = thresholdsFor(profile, builtInThresholds);
  const observed = { fromMs: quarterStart(summary.observed.fromMs), toMs: quarterEnd(lastSampleMs) };
  const documentOf = (bounds: BucketBounds): ShiftDocument => {
    const { startMs, endMs } = bounds;
    const report = shiftReport(findings, { startMs, endMs, cooldownWantedS });
    const versions = inspections.filter(({ shiftStartedMs }) => shiftStartedMs === startMs).map(toInspection);
    return {
      name: bounds.shift ?? '',
      startedAt: toInstant(startMs),
      endedAt: toInstant(endMs),
      isOver: lastSampleMs >= endMs,
      residency: sumRows(rows, quarterEnd(Math.max(startMs, observed.fromMs)), Math.min(endMs, observed.toMs)),
      starts: report.starts.map(({ atMs, ...start }) => ({ at: toInstant(atMs), ...start })),
      idles: report.idles.map(({ startedMs, endedMs, ...idle }) => ({
        startedAt: toInstant(startedMs),
        endedAt: endedMs === null ? null : toInstant(endedMs),
        ...idle,
      })),
      stops: report.stops.map(({ atMs, ...stop }) => ({ at: toInstant(atMs), ...stop })),
      fills: report.fills.map(({ atMs, ...fill }) => ({ at: toInstant(atMs), ...fill })),
      wellDoneRatio: report.wellDoneRatio,
      defLevelEndPct: levelAtEnd(levels, startMs, endMs),
      inspection: versions.at(-1) ?? null,
      inspectionHistory: versions,
    };
  };
  return {
    machineId,
    machineName: profile.name ?? machineId,
    timeZone: profile.timeZone,
    cooldownWantedS,
    // Before the first sample there is nothing to say of a shift.
    items: buckets
      .filter(({ endMs }) => endMs > observed.fromMs)
      .map(documentOf)
      .reverse(),
  };
}

/** The start of the shift if there is one of the machine's calendar; null for any other time. */
export function shiftStartingAt({ profile }: StoredMachine, startMs: number): BucketBounds | null {
  const around = residencyBucketBounds({ bucket: 'shift', profile, fromMs: startMs, toMs: startMs + 1 });
  return around.find((bounds) => bounds.startMs === startMs) ?? null;
}

/** A version as it is shown. */
export function toInspection({ version, atMs, by, ticks, note }: InspectionVersion): Inspection {
  const all = Object.fromEntries(inspectionItems.map((item) => [item, ticks[item] ?? null]));
  return { version, at: toInstant(atMs), by, ticks: all as Inspection['ticks'], note };
}

async function findingsOf(store: Store, machineId: string, range: ShiftRange): Promise<Finding[]> {
  const found: Finding[] = [];
  let cursor: string | undefined;
  do {
    const page = await store.listFindings({ machineId, limit: pageOfFindings, cursor, kinds, ...range });
    found.push(...page.items);
    cursor = page.nextCursor ?? undefined;
  } while (cursor !== undefined && found.length < mostFindings);
  return found;
}

interface Levels {
  readonly timeMs: Float64Array;
  readonly levelPct: ArrayLike<number>;
}

async function levelsOf(store: Store, machineId: string, range: ShiftRange): Promise<Levels[]> {
  if (range.fromMs >= range.toMs) return [];
  const blocks = await store.readSamples({ machineId, ...range, channels: ['defLevelPct'] });
  return blocks.flatMap(({ timeMs, channels: { defLevelPct } }) =>
    defLevelPct === undefined ? [] : [{ timeMs, levelPct: defLevelPct }],
  );
}

/** The last level that was sent within the shift. */
function levelAtEnd(levels: readonly Levels[], startMs: number, endMs: number): number | null {
  for (let b = levels.length - 1; b >= 0; b--) {
    const { timeMs, levelPct } = levels[b] as Levels;
    for (let i = timeMs.length - 1; i >= 0; i--) {
      const atMs = timeMs[i] as number;
      if (atMs < startMs) return null;
      const level = levelPct[i] as number;
      if (atMs < endMs && level === level) return Math.round(level * 10) / 10;
    }
  }
  return null;
}
