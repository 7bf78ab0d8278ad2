/** Turns a simulation's truth into what a case expects. Knows nothing of the analysis but its names. */

import {
  type FaultReport,
  type MachineProfile,
  machineProfileSchema,
  profileWindow,
  type SampleBlock,
} from '@warmbrick/signals';
import type { SimulatedMachine, TruthEvent } from '@warmbrick/simulator';
import type { CaseFileInput } from './case-file.js';
import type { Recipe } from './case-recipes.js';

export interface RecordedMachine {
  readonly machine: SimulatedMachine;
  /** As sent. */
  readonly block: SampleBlock;
  readonly reports: readonly FaultReport[];
  /** Every second of it, with honest sensors and nothing lost. */
  readonly everySecond: SampleBlock;
  readonly truth: readonly TruthEvent[];
}

type Expected = CaseFileInput['expected'][number];

/** Gaps shorter than this are not worth a finding, s. Source: engineering judgement, also the default threshold. */
const shortestGapS = 300;

/** The findings that a machine's truth asks for. */
export function expectedFindings(recorded: RecordedMachine, recipe: Recipe): Expected[] {
  const { machine, block, truth } = recorded;
  const periodS = machine.gateway?.samplePeriodS ?? 1;
  const lastMs = block.timeMs.at(-1) as number;
  const base = { machineId: machine.machineId, withinS: periodS + 1 };
  const diesWithKey = machine.gateway?.awakeAfterKeyOffS === 0;
  return truth.flatMap((event): Expected[] => {
    // What ended after the last sample is not yet known to have ended.
    const hasEnded = event.endedMs <= lastMs;
    if (event.kind === 'engine-run') {
      return [
        {
          ...base,
          kind: 'engine-run',
          startedAt: iso(event.startedMs),
          endedAt: hasEnded ? iso(event.endedMs) : 'open',
        },
      ];
    }
    if (event.kind === 'idle-streak' && event.isOverLimit) return [idleStreak(event, base, recipe)];
    if (event.kind === 'stop' && event.grade !== 'cool' && hasEnded) return [hotStop(event, base, diesWithKey)];
    if (event.kind === 'early-load') {
      const warmupS = { about: event.afterStartS, within: base.withinS + 2 };
      const startedAt = iso(event.startedMs);
      return [{ ...base, withinS: base.withinS + 2, kind: 'early-load', startedAt, values: { warmupS } }];
    }
    if (event.kind === 'derate' && recipe.shows.includes('derate')) {
      // Signs are read once a minute.
      const endedAt = hasEnded ? iso(event.endedMs) : 'open';
      return [{ ...base, withinS: base.withinS + 60, kind: 'derate', startedAt: iso(event.startedMs), endedAt }];
    }
    if (event.kind === 'gap' && event.durationS >= shortestGapS) {
      const durationS = { about: event.durationS, within: 2 * base.withinS };
      return [
        {
          ...base,
          kind: 'data-gap',
          startedAt: iso(event.startedMs),
          endedAt: iso(event.endedMs),
          values: { durationS },
        },
      ];
    }
    return [];
  });
}

/** Residency in seconds, counted second by second from what the machine really did. */
export function expectedTotals(recorded: RecordedMachine): Record<string, { about: number; within: number }> {
  const profile = machineProfileSchema.parse(recorded.machine.profile);
  const counts = countSeconds(recorded.everySecond, profile);
  const runs = recorded.truth.filter((event) => event.kind === 'engine-run').length;
  const periodS = recorded.machine.gateway?.samplePeriodS ?? 1;
  // A sample stands for its whole period, so each change of state can be off by one at either side.
  const within = 2 * (periodS + 1) * (runs + 10);
  return Object.fromEntries(Object.entries(counts).map(([name, about]) => [name, { about, within }]));
}

function countSeconds(block: SampleBlock, profile: MachineProfile) {
  const { lowC, highC } = profileWindow(profile);
  const { engineSpeedRpm, engineLoadPct, scrInletTempC } = block.channels;
  const counts = { runningS: 0, idleS: 0, belowS: 0, inS: 0, aboveS: 0 };
  for (let i = 0; i < block.timeMs.length; i++) {
    const rpm = engineSpeedRpm?.[i] as number;
    const tempC = scrInletTempC?.[i] as number;
    if (rpm < profile.runningRpm) continue;
    counts.runningS++;
    const isNearBase = rpm <= profile.baseIdleRpm + profile.idleBandRpm;
    if (isNearBase && (engineLoadPct?.[i] as number) < profile.noLoadPct) counts.idleS++;
    if (tempC < lowC) counts.belowS++;
    else if (tempC <= highC) counts.inS++;
    else counts.aboveS++;
  }
  return counts;
}

function idleStreak(
  event: Extract<TruthEvent, { kind: 'idle-streak' }>,
  base: Pick<Expected, 'machineId' | 'withinS'>,
  recipe: Recipe,
): Expected {
  const durationS = { about: event.durationS, within: recipe.idleWithinS ?? 2 * base.withinS };
  const startedAt = iso(event.startedMs);
  return { ...base, kind: 'idle-streak', startedAt, endedAt: iso(event.endedMs), values: { durationS } };
}

function hotStop(
  event: Extract<TruthEvent, { kind: 'stop' }>,
  base: Pick<Expected, 'machineId' | 'withinS'>,
  isInferred: boolean,
): Expected {
  return {
    ...base,
    withinS: base.withinS + 2,
    kind: 'hot-shutdown',
    startedAt: iso(event.startedMs),
    severity: event.grade === 'severe' ? 'severe' : ['notice', 'warning'],
    values: { cooldownS: { about: event.coolDownS as number, within: base.withinS + 3 }, inferred: isInferred },
  };
}

function iso(timeMs: number): string {
  return new Date(timeMs).toISOString();
}
