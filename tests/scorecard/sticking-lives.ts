/** More machines whose urea sticks: few machines of a fleet are blocked, too few to tell how well the score foretells it. */

import { variedFleet } from '@warmbrick/simulator';
import type { ScoredMoment } from './calibration.js';
import { liveMachine } from './live-machine.js';

/** Fleets are looked through for them that are so much larger, and of a seed so much further on. */
const timesLarger = 4;
const seedApart = 1000;

export interface StickingLives {
  readonly machines: number;
  readonly seed: number;
  readonly moments: readonly ScoredMoment[];
}

/** Lives of the machines with sticking urea in a larger fleet of another seed. */
export function livesOfSticking(plan: {
  readonly machines: number;
  readonly days: number;
  readonly seed: number;
  readonly startMs: number;
}): StickingLives {
  const { days, startMs } = plan;
  const seed = plan.seed + seedApart;
  const fleet = variedFleet({ machines: timesLarger * plan.machines, days, seed }).filter(
    (machine) => (machine.aftertreatment?.depositFactor ?? 1) > 1,
  );
  const moments = fleet.flatMap((machine) => liveMachine(machine, { startMs, days, seed, hasOutlook: true }).moments);
  return { machines: fleet.length, seed, moments };
}
