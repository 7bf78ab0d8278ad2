/** The search itself: asks a seeker for points, has them judged, keeps what came of each. */

import type { ThresholdValues } from '@warmbrick/analysis';
import type { MachineOutcome } from '../outcomes/judge.js';
import { type OutcomeFigures, outcomeFigures, type Weighing } from '../outcomes/outcome-figures.js';
import type { Seeker } from './seekers.js';
import type { Point, ThresholdSpace } from './threshold-space.js';

/** What came of one set on the machines it may be fitted to. */
export interface Evaluation {
  readonly point: Point;
  readonly values: ThresholdValues;
  readonly figures: OutcomeFigures;
  readonly outcomes: readonly MachineOutcome[];
}

export interface SearchOptions {
  readonly space: ThresholdSpace;
  readonly seeker: Seeker;
  /** Sets judged at most, the one searched from included. */
  readonly trials: number;
  /** Outcomes of each set on the tuning machines. */
  readonly judge: (candidates: readonly ThresholdValues[]) => Promise<readonly (readonly MachineOutcome[])[]>;
  readonly weighing: Weighing;
  /** Called after each round with the number of sets judged so far. */
  readonly onProgress?: (judged: number) => void;
  /** Asked before each round; true ends the search with what there is. */
  readonly isCancelled?: () => boolean;
}

export interface SearchRun {
  /** The set searched from first, then in the order of trial; each set of values once. */
  readonly evaluations: readonly Evaluation[];
  readonly isCancelled: boolean;
}

/**
 * Runs the search. Sets that break a constraint cost infinitely much and are not judged; sets judged before are not judged
 * again. With the same seed it is the same search, whoever judges.
 */
export async function runSearch(options: SearchOptions): Promise<SearchRun> {
  const { space, seeker, trials, isCancelled = () => false } = options;
  const known = new Map<string, Evaluation>();
  await judgeAll(options, known, [space.start]);
  // A seeker that keeps asking for what is known brings nothing new; then it is enough.
  for (let idle = 0; known.size < trials && idle < idleRounds; ) {
    if (isCancelled()) return { evaluations: [...known.values()], isCancelled: true };
    const points = seeker.ask();
    if (points.length === 0) break;
    const before = known.size;
    const allowed = points.filter((point) => space.isAllowed(space.valuesAt(point)));
    await judgeAll(options, known, allowed.slice(0, trials - before));
    seeker.tell(
      points.map(
        (point) =>
          known.get(keyOf(space, space.valuesAt(point)))?.figures.costPerMachineMonth ?? Number.POSITIVE_INFINITY,
      ),
    );
    options.onProgress?.(known.size);
    idle = known.size > before ? 0 : idle + 1;
  }
  return { evaluations: [...known.values()], isCancelled: false };
}

/** Rounds without a new set after which a search ends. Source: engineering judgement. */
const idleRounds = 50;

async function judgeAll(
  options: SearchOptions,
  known: Map<string, Evaluation>,
  points: readonly Point[],
): Promise<void> {
  const { space, judge, weighing } = options;
  const fresh = new Map<string, { point: Point; values: ThresholdValues }>();
  for (const point of points) {
    const values = space.valuesAt(point);
    const key = keyOf(space, values);
    if (!known.has(key)) fresh.set(key, { point: space.pointOf(values), values });
  }
  if (fresh.size === 0) return;
  const outcomes = await judge([...fresh.values()].map(({ values }) => values));
  [...fresh].forEach(([key, { point, values }], k) => {
    const own = outcomes[k] as readonly MachineOutcome[];
    known.set(key, { point, values, figures: outcomeFigures(own, weighing), outcomes: own });
  });
}

/** Sets with the same values on the axes are the same. */
function keyOf(space: ThresholdSpace, values: ThresholdValues): string {
  return space.axes.map(({ name }) => values[name]).join();
}
