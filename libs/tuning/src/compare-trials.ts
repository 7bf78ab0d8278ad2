/** What another threshold set would change: findings that appear, vanish, move or are said otherwise. */

import type { Finding } from '@warmbrick/analysis';
import type { MachineTrial, TrialFinding } from './trial-types.js';

export type FindingChange =
  | { readonly type: 'appears'; readonly after: TrialFinding }
  | { readonly type: 'vanishes'; readonly before: TrialFinding }
  /** The same stretch with another start. */
  | { readonly type: 'moves'; readonly before: TrialFinding; readonly after: TrialFinding }
  /** The same start with another end, severity or figure; `fields` names them. */
  | {
      readonly type: 'changes';
      readonly before: TrialFinding;
      readonly after: TrialFinding;
      readonly fields: readonly string[];
    };
export type ChangeType = FindingChange['type'];
export const changeTypes = ['appears', 'vanishes', 'moves', 'changes'] as const satisfies readonly ChangeType[];

export interface MachineComparison {
  readonly machineId: string;
  readonly machineClass: string;
  readonly before: MachineTrial;
  readonly after: MachineTrial;
  /** In order of time. */
  readonly changes: readonly FindingChange[];
  /** Figures of residency that differ, and the score; after less before. */
  readonly residencyDiffers: Readonly<Record<string, { readonly before: number; readonly after: number }>>;
  readonly scoreBefore: number | null;
  readonly scoreAfter: number | null;
  readonly isEqual: boolean;
}

/** Figures that only repeat the limit by which a finding was made; a set that moves a limit restates them all. */
const restatedLimits: ReadonlySet<string> = new Set([
  'limitS',
  'wantedS',
  'limitPct',
  'limitK',
  'cleanPct',
  'waitS',
  'thawS',
  'marginK',
  'windowFuelL',
  'releaseLimitS',
  'limitKPa',
  'noticeKPa',
]);

/**
 * Compares two trials of one machine over the same samples.
 *
 * A finding is the same by kind and start. Of what is left, one that vanishes and one that appears of the same kind are one
 * that moves when they overlap in time, the nearest starts first. The name of the set, and figures that only repeat a
 * limit, are no change; evidence is none either.
 * Range: equal results give no change.
 */
export function compareTrials(before: MachineTrial, after: MachineTrial): MachineComparison {
  const afterById = new Map(after.findings.map((one) => [one.finding.id, one]));
  const changes: FindingChange[] = [];
  const gone: TrialFinding[] = [];
  for (const one of before.findings) {
    const other = afterById.get(one.finding.id);
    if (other === undefined) {
      gone.push(one);
      continue;
    }
    afterById.delete(one.finding.id);
    const fields = differingFields(one.finding, other.finding);
    if (fields.length > 0) changes.push({ type: 'changes', before: one, after: other, fields });
  }
  changes.push(...moved(gone, [...afterById.values()]));
  changes.sort((a, b) => startOf(a) - startOf(b) || compareText(kindOfChange(a), kindOfChange(b)));
  const residencyDiffers = residencyDifferences(before, after);
  const scoreBefore = before.summary?.score?.value ?? null;
  const scoreAfter = after.summary?.score?.value ?? null;
  return {
    machineId: before.machineId,
    machineClass: before.machineClass,
    before,
    after,
    changes,
    residencyDiffers,
    scoreBefore,
    scoreAfter,
    isEqual: changes.length === 0 && Object.keys(residencyDiffers).length === 0 && scoreBefore === scoreAfter,
  };
}

/** The kind of finding that a change is about. */
export function kindOfChange(change: FindingChange): Finding['kind'] {
  return (change.type === 'vanishes' ? change.before : change.after).finding.kind;
}

function startOf(change: FindingChange): number {
  return (change.type === 'appears' ? change.after : change.before).finding.startedMs;
}

function compareText(a: string, b: string): number {
  return a < b ? -1 : a > b ? 1 : 0;
}

function differingFields(a: Finding, b: Finding): string[] {
  const fields: string[] = [];
  if (a.endedMs !== b.endedMs) fields.push('end');
  if (a.severity !== b.severity) fields.push('severity');
  for (const name of new Set([...Object.keys(a.values), ...Object.keys(b.values)])) {
    if (!restatedLimits.has(name) && a.values[name] !== b.values[name]) fields.push(name);
  }
  return fields;
}

/** Pairs what vanished with what appeared where they overlap; the rest vanished or appeared. */
function moved(gone: readonly TrialFinding[], come: readonly TrialFinding[]): FindingChange[] {
  const pairs: { before: TrialFinding; after: TrialFinding; apartMs: number }[] = [];
  for (const before of gone) {
    for (const after of come) {
      if (before.finding.kind !== after.finding.kind || !overlap(before.finding, after.finding)) continue;
      pairs.push({ before, after, apartMs: Math.abs(before.finding.startedMs - after.finding.startedMs) });
    }
  }
  pairs.sort((a, b) => a.apartMs - b.apartMs);
  const used = new Set<TrialFinding>();
  const changes: FindingChange[] = [];
  for (const { before, after } of pairs) {
    if (used.has(before) || used.has(after)) continue;
    used.add(before).add(after);
    changes.push({ type: 'moves', before, after });
  }
  for (const before of gone) if (!used.has(before)) changes.push({ type: 'vanishes', before });
  for (const after of come) if (!used.has(after)) changes.push({ type: 'appears', after });
  return changes;
}

function overlap(a: Finding, b: Finding): boolean {
  return a.startedMs <= (b.endedMs ?? b.emittedMs) && b.startedMs <= (a.endedMs ?? a.emittedMs);
}

function residencyDifferences(a: MachineTrial, b: MachineTrial): MachineComparison['residencyDiffers'] {
  const before = (a.summary?.residency ?? {}) as Readonly<Record<string, number | null>>;
  const after = (b.summary?.residency ?? {}) as Readonly<Record<string, number | null>>;
  const names = Object.keys(before).filter((name) => before[name] !== after[name]);
  return Object.fromEntries(names.map((name) => [name, { before: before[name] ?? 0, after: after[name] ?? 0 }]));
}
