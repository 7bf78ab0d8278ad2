/** Judges sets on the units of a plan: each unit with all sets at once, units side by side, what is known from the journal. */

import type { ThresholdValues } from '@warmbrick/analysis';
import type { MachineOutcome, ThresholdAxis } from '@warmbrick/tuning';
import type { JudgePool } from './judge-pool.js';
import type { TuningJournal } from './tuning-journal.js';
import type { TunedUnit } from './unit-task.js';

type Outcomes = readonly MachineOutcome[];

export interface Judge {
  /** Outcomes of each set, a unit each. */
  onTuning(candidates: readonly ThresholdValues[]): Promise<Outcomes[]>;
  onHeldOut(candidates: readonly ThresholdValues[]): Promise<Outcomes[]>;
  /** Outcomes of one set with shifted labels: a row a shift. Shapes: shifts of each held-out unit, as many for each. */
  byChance(values: ThresholdValues, shiftRatios: readonly (readonly number[])[]): Promise<Outcomes[]>;
}

export interface JudgedParts {
  readonly axes: readonly ThresholdAxis[];
  readonly tuning: readonly TunedUnit[];
  readonly heldOut: readonly TunedUnit[];
}

/** Creates the judge of a search. */
export function createJudge(parts: JudgedParts, pool: JudgePool, journal: TuningJournal): Judge {
  const onUnits = async (units: readonly TunedUnit[], candidates: readonly ThresholdValues[]) => {
    const byUnit = await Promise.all(units.map((unit) => pool.run({ unit, candidates })));
    return candidates.map((_, k) => byUnit.map((outcomes) => outcomes[k] as MachineOutcome));
  };
  const keyOf = (values: ThresholdValues) => parts.axes.map(({ name }) => values[name]).join();
  return {
    async onTuning(candidates) {
      const unknown = candidates.filter((values) => journal.find(keyOf(values)) === undefined);
      if (unknown.length > 0) {
        const outcomes = await onUnits(parts.tuning, unknown);
        for (const [k, values] of unknown.entries()) journal.add(keyOf(values), outcomes[k] as Outcomes);
      }
      return candidates.map((values) => journal.find(keyOf(values)) as Outcomes);
    },
    onHeldOut: (candidates) => onUnits(parts.heldOut, candidates),
    async byChance(values, shiftRatios) {
      const byUnit = await Promise.all(
        parts.heldOut.map((unit, k) =>
          pool.run({ unit, candidates: [values], shiftRatios: shiftRatios[k] as readonly number[] }),
        ),
      );
      return (shiftRatios[0] ?? []).map((_, k) => byUnit.map((outcomes) => outcomes[k] as MachineOutcome));
    },
  };
}
