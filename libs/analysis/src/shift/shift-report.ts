/** How a machine was started, worked, stopped and filled in one shift, out of its findings. */

import type { Finding, FindingValue } from '../finding.js';

export interface ShiftStart {
  readonly atMs: number;
  /** `unseen`: the engine ran when the record began. */
  readonly grade: 'good' | 'too-early-load' | 'unseen';
  /** Idling before the first load, and what was wanted for the cold; null where nothing was wrong. */
  readonly warmupS: number | null;
  readonly wantedS: number | null;
}

export interface ShiftIdle {
  readonly startedMs: number;
  readonly endedMs: number | null;
  readonly durationS: number;
  readonly fuelL: number | null;
}

export interface ShiftStop {
  readonly atMs: number;
  /** `unknown`: the cool-down before it was not seen. */
  readonly grade: 'good' | 'short' | 'hot' | 'unknown';
  /** Base idle without load before the key. */
  readonly cooldownS: number | null;
  readonly wantedS: number;
}

export interface ShiftFill {
  readonly atMs: number;
  readonly litres: number | null;
  readonly levelAfterPct: number | null;
}

export interface ShiftReport {
  readonly starts: readonly ShiftStart[];
  readonly idles: readonly ShiftIdle[];
  readonly stops: readonly ShiftStop[];
  readonly fills: readonly ShiftFill[];
  /** Starts and stops done as wanted, of those that were seen; null when none was. */
  readonly wellDoneRatio: number | null;
}

export interface ShiftBounds {
  readonly startMs: number;
  readonly endMs: number;
  /** Cool-down wanted before the key, seconds. */
  readonly cooldownWantedS: number;
}

/** Shares of the wanted cool-down under which a stop is called short. Source: engineering judgement; sensors sample once a second. */
const goodCooldownRatio = 0.9;
/** A hot stop is told of at most this long around the end of its run. Source: engineering judgement. */
const sameStopMs = 5000;

/**
 * The report of one shift.
 *
 * @param findings those that overlap the shift, of any kinds; ones of the run before and after do no harm
 */
export function shiftReport(findings: readonly Finding[], bounds: ShiftBounds): ShiftReport {
  const isWithin = (atMs: number) => atMs >= bounds.startMs && atMs < bounds.endMs;
  const of = (kind: Finding['kind']) => findings.filter((finding) => finding.kind === kind);
  const runs = of('engine-run');
  const early = of('early-load');
  const hot = of('hot-shutdown');
  const starts = runs.filter(({ startedMs }) => isWithin(startedMs)).map((run) => startOf(run, early));
  const stops = runs
    .filter(({ endedMs }) => endedMs !== null && isWithin(endedMs))
    .map((run) => stopOf(run, hot, bounds.cooldownWantedS));
  const idles = of('idle-streak').filter(
    ({ startedMs, endedMs }) => startedMs < bounds.endMs && (endedMs ?? Infinity) > bounds.startMs,
  );
  const fills = of('def-fill').filter(({ startedMs }) => isWithin(startedMs));
  const graded = [...starts.map(({ grade }) => grade), ...stops.map(({ grade }) => grade)].filter(
    (grade) => grade !== 'unseen' && grade !== 'unknown',
  );
  return {
    starts: inOrder(starts, ({ atMs }) => atMs),
    idles: inOrder(idles.map(idleOf), ({ startedMs }) => startedMs),
    stops: inOrder(stops, ({ atMs }) => atMs),
    fills: inOrder(fills.map(fillOf), ({ atMs }) => atMs),
    wellDoneRatio: graded.length === 0 ? null : graded.filter((grade) => grade === 'good').length / graded.length,
  };
}

function startOf(run: Finding, early: readonly Finding[]): ShiftStart {
  const endMs = run.endedMs ?? Infinity;
  const load = early.find(
    (it) => it.evidence.engineStartMs === run.startedMs || (it.startedMs >= run.startedMs && it.startedMs < endMs),
  );
  if (load !== undefined) {
    return {
      atMs: run.startedMs,
      grade: 'too-early-load',
      warmupS: numberOf(load.values.warmupS),
      wantedS: numberOf(load.values.wantedS),
    };
  }
  const grade = run.evidence.startObserved === false ? 'unseen' : 'good';
  return { atMs: run.startedMs, grade, warmupS: null, wantedS: null };
}

function stopOf(run: Finding, hot: readonly Finding[], wantedS: number): ShiftStop {
  const atMs = run.endedMs as number;
  const hotStop = hot.find(({ startedMs }) => Math.abs(startedMs - atMs) <= sameStopMs);
  const cooldownS = numberOf(run.values.cooldownS);
  if (hotStop !== undefined) return { atMs, grade: 'hot', cooldownS: numberOf(hotStop.values.cooldownS), wantedS };
  const grade = cooldownS === null ? 'unknown' : cooldownS >= wantedS * goodCooldownRatio ? 'good' : 'short';
  return { atMs, grade, cooldownS, wantedS };
}

function idleOf({ startedMs, endedMs, values }: Finding): ShiftIdle {
  return { startedMs, endedMs, durationS: numberOf(values.durationS) ?? 0, fuelL: numberOf(values.fuelL) };
}

function fillOf({ startedMs, values }: Finding): ShiftFill {
  return { atMs: startedMs, litres: numberOf(values.litres), levelAfterPct: numberOf(values.levelAfterPct) };
}

function numberOf(value: FindingValue | undefined): number | null {
  return typeof value === 'number' ? value : null;
}

function inOrder<T>(items: readonly T[], timeOf: (item: T) => number): T[] {
  return [...items].sort((a, b) => timeOf(a) - timeOf(b));
}
