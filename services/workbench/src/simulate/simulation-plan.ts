/** What is to be simulated: machines, time, seed. */

import {
  type DutyCycleName,
  type DutySegment,
  dutyCycle,
  type Habit,
  type SimulatedMachine,
  variedFleet,
} from '@warmbrick/simulator';

export interface SimulationPlan {
  readonly fleet: readonly SimulatedMachine[];
  readonly startMs: number;
  readonly endMs: number;
  readonly seed: number;
}

export interface PlanFlags {
  readonly machines: number;
  readonly days: number;
  readonly seed: number;
  readonly habit?: Habit;
  readonly cycle?: DutyCycleName;
  /** False: nothing goes wrong. */
  readonly mishaps: boolean;
}

/** Where a simulation starts that is told no time: 05:00 at the site, before the shifts of a day of early spring. */
const usualStartMs = Date.UTC(2026, 2, 2, 4);
const hourMs = 3_600_000;
const dayMs = 24 * hourMs;
/** From the start of an engine to the first run of a cycle. */
const warmUpS = 600;

/** The plan of a command line. A start is in epoch milliseconds. */
export function simulationPlan(flags: PlanFlags, startMs: number = usualStartMs): SimulationPlan {
  const { machines, days, seed, habit, cycle, mishaps } = flags;
  const varied = variedFleet({ machines, days, seed, hasMishaps: mishaps, ...(habit === undefined ? {} : { habit }) });
  const fleet =
    cycle === undefined ? varied : varied.map((machine) => ({ ...machine, schedule: cycling(cycle, days) }));
  return { fleet, startMs, endMs: startMs + Math.round(days * dayMs) - 1000, seed };
}

/** One start, then the cycle again and again, then a cool-down. */
function cycling(cycle: DutyCycleName, days: number): DutySegment[] {
  const once = dutyCycle(cycle);
  const onceS = once.reduce((sum, { durationS }) => sum + durationS, 0);
  const runs = Math.max(1, Math.floor((days * (dayMs / 1000) - 2 * warmUpS) / onceS));
  const repeated = Array.from({ length: runs }, () => once).flat();
  return [{ kind: 'start', durationS: warmUpS }, ...repeated, { kind: 'cool-down', durationS: 330 }];
}

/** Start of a simulation whose samples go to a service: its last one is not in the future. */
export function liveStartMs(nowMs: number, days: number): number {
  return Math.floor((nowMs - days * dayMs) / hourMs) * hourMs;
}
