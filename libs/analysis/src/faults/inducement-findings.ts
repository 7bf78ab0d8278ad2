/** Inducement clocks that run, as findings: what comes next, when, and what clears it. */

import { rounded } from '../figures.js';
import { beforeSamplesMs, type Finding, findingId, type Severity } from '../finding.js';
import type { FaultEpisode } from './fault-episode.js';
import { inducementClasses, inducementClassTexts } from './inducement-class.js';
import type { ClockLine, ClockStep, InducementClock } from './inducement-clock.js';

/** Engine hours before a step from which it is near: half a shift, time to bring somebody. Source: engineering judgement. */
export const nearStepH = 4;

/**
 * Schedules that hold where a machine's profile names none: those of a market, not the schemes of single makers, which a profile
 * has to name.
 */
const marketSchedules: readonly string[] = ['eu-stage-v', 'us-nonroad-4h', 'us-nonroad-36h'];

export interface InducementKnown {
  /** Findings of this kind without an end. */
  readonly open: readonly Finding[];
  /** Episodes of the machine, those of the open findings among them as far as they still stand. */
  readonly faults: readonly FaultEpisode[];
  /** Schedule that the machine's profile names; null when it names none. */
  readonly chosenId: string | null;
}

/** What to write and what to take back. */
export interface InducementFindings {
  readonly findings: readonly Finding[];
  /** Late reports have unmade the episode that ran the clock. */
  readonly withdrawnIds: readonly string[];
}

/**
 * The findings of the clocks of one machine: one for each class of fault that runs one, and those that are over.
 *
 * A finding begins with the fault episode that runs the clock, to the second; the last three digits tell the classes of one
 * machine apart. It is told by the schedule that the profile names, otherwise by the one of a market whose next step of hours is
 * nearest; `evidence` names the others' soonest. Findings that ended carry the end of the fault.
 */
export function inducementFindings(
  machineId: string,
  clocks: readonly InducementClock[],
  known: InducementKnown,
): InducementFindings {
  const running = inducementClasses.flatMap((one) => {
    const rows = clocks.flatMap((clock) =>
      clock.lines.filter(({ inducementClass }) => inducementClass === one).map((line) => ({ clock, line })),
    );
    const told = toldBy(rows, known.chosenId);
    return told === null ? [] : [runningFinding(machineId, told, { rows, faults: known.faults })];
  });
  const goesOn = new Set(running.map(({ id }) => id));
  const over: Finding[] = [];
  const withdrawnIds: string[] = [];
  for (const finding of known.open) {
    if (goesOn.has(finding.id)) continue;
    const episode = known.faults.find(({ id }) => id === finding.evidence.faultId);
    const endedMs = episode?.endedMs ?? null;
    if (endedMs === null) withdrawnIds.push(finding.id);
    else over.push({ ...finding, endedMs: Math.max(finding.startedMs, endedMs) });
  }
  return { findings: [...running, ...over], withdrawnIds };
}

interface ToldLine {
  readonly clock: InducementClock;
  readonly line: ClockLine;
}

function toldBy(rows: readonly ToldLine[], chosenId: string | null): ToldLine | null {
  const chosen = rows.find(({ clock }) => clock.scheduleId === chosenId);
  if (chosen !== undefined) return chosen;
  const usual = rows.filter(({ clock }) => marketSchedules.includes(clock.scheduleId));
  return soonest(usual) ?? soonest(rows);
}

function soonest(rows: readonly ToldLine[]): ToldLine | null {
  return rows.reduce<ToldLine | null>(
    (best, row) => (best === null || hoursOf(row.line) < hoursOf(best.line) ? row : best),
    null,
  );
}

/** Hours to the next step; 0 when all are reached; without end where the next one hangs on the level. */
function hoursOf({ next }: ClockLine): number {
  return next === null ? 0 : (next.hoursLeft ?? Number.POSITIVE_INFINITY);
}

function runningFinding(
  machineId: string,
  { clock, line }: ToldLine,
  among: { readonly rows: readonly ToldLine[]; readonly faults: readonly FaultEpisode[] },
): Finding {
  const { inducementClass, next, isRepeat, isUpperBound } = line;
  const startedMs = Math.floor(line.startedMs / 1000) * 1000 + inducementClasses.indexOf(inducementClass);
  const reached = line.steps.filter(({ isReached, level }) => isReached && level !== 'warning').at(-1) ?? null;
  const final = line.steps.at(-1) ?? null;
  const step = next ?? final;
  const first = among.faults.find(({ id }) => id === line.faultIds[0]);
  const others = soonest(among.rows.filter((row) => row.clock !== clock));
  const othersH = others === null ? Number.POSITIVE_INFINITY : hoursOf(others.line);
  return {
    id: findingId(machineId, 'inducement-step', startedMs),
    machineId,
    kind: 'inducement-step',
    startedMs,
    endedMs: null,
    severity: severityOf(line, reached),
    values: {
      about: inducementClassTexts[inducementClass],
      fault: first === undefined ? null : `SPN ${first.spn} FMI ${first.fmi}`,
      step: step?.text ?? null,
      level: step?.level ?? null,
      isFinal: step !== null && step === final,
      isReached: next === null,
      hoursLeft: next === null ? 0 : tenths(next.hoursLeft),
      atLevelPct: step?.atLevelPct ?? null,
      inForce: reached?.text ?? null,
      schedule: clock.scheduleId,
      fromMemory: step?.fromMemory ?? clock.fromMemory,
      clears: line.clears,
    },
    evidence: {
      faultId: line.faultIds[0] ?? null,
      faults: line.faultIds.length,
      ...{ isRepeat, isUpperBound, scheduleTitle: clock.title },
      soonestOtherSchedule: Number.isFinite(othersH) ? (others?.clock.scheduleId ?? null) : null,
      soonestOtherHoursLeft: Number.isFinite(othersH) ? tenths(othersH) : null,
    },
    thresholdSet: 'inducement-schedules',
    emittedMs: beforeSamplesMs,
  };
}

/** Severe once the final step is near or in force, a warning once any step is; a clock that has only begun is a notice. */
function severityOf({ next, steps }: ClockLine, reached: ClockStep | null): Severity {
  const isNear = next?.hoursLeft !== null && next?.hoursLeft !== undefined && next.hoursLeft <= nearStepH;
  if (next === null || (isNear && next === steps.at(-1))) return 'severe';
  return isNear || reached !== null ? 'warning' : 'notice';
}

function tenths(hours: number | null): number | null {
  return hours === null ? null : rounded(hours, 1);
}
