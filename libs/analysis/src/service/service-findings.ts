/** Overdue work as findings. */

import { beforeSamplesMs, type Finding, findingId } from '../finding.js';
import type { ServiceDue } from './service-due.js';

/** Days overdue after which it is no longer a notice. Source: engineering judgement. */
const warningDays = 14;
const dayMs = 86_400_000;

/**
 * The findings of what is overdue, and those that are over because the work was done or is no longer wanted.
 *
 * A finding begins when the work fell due, in whose last three digits the items of one machine are told apart. Hours that come
 * in later would move that by a little, so one that goes on keeps the beginning it had.
 * @param open findings of this kind without an end
 */
export function serviceFindings(
  machineId: string,
  dues: readonly ServiceDue[],
  known: { readonly open: readonly Finding[]; readonly nowMs: number },
): Finding[] {
  const overdue = dues.flatMap((due, place) => {
    if (due.state !== 'overdue' || due.dueMs === null) return [];
    const before = known.open.find((finding) => isAbout(finding, due));
    const startedMs = before?.startedMs ?? Math.floor(due.dueMs / 1000) * 1000 + Math.min(place, 999);
    return [overdueFinding(machineId, due, { startedMs, nowMs: known.nowMs })];
  });
  const goesOn = new Set(overdue.map(({ id }) => id));
  const over = known.open
    .filter(({ id }) => !goesOn.has(id))
    .map((finding) => {
      const doneMs = dues.find(({ item }) => item === finding.values.item)?.lastMs ?? known.nowMs;
      return { ...finding, endedMs: Math.max(finding.startedMs, doneMs) };
    });
  return [...overdue, ...over];
}

function isAbout({ values, evidence }: Finding, { item, lastMs }: ServiceDue): boolean {
  return values.item === item && evidence.lastMs === lastMs;
}

function overdueFinding(machineId: string, due: ServiceDue, at: { startedMs: number; nowMs: number }): Finding {
  const { startedMs, nowMs } = at;
  const { hours, months } = due.interval;
  return {
    id: findingId(machineId, 'service-overdue', startedMs),
    machineId,
    kind: 'service-overdue',
    startedMs,
    endedMs: null,
    severity: nowMs - startedMs > warningDays * dayMs ? 'warning' : 'notice',
    values: { item: due.item, name: due.name, dueBy: due.dueBy, intervalHours: hours, intervalMonths: months },
    evidence: { lastMs: due.lastMs, lastEngineHours: due.lastEngineHours, usedBasis: due.usedBasis },
    thresholdSet: 'service-intervals',
    emittedMs: beforeSamplesMs,
  };
}
