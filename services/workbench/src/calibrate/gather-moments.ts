/** Scores of all machines, every so many hours, with what came in the engine hours after. */

import { type Analyzer, builtInThresholds, createAnalyzer, type RiskScore } from '@warmbrick/analysis';
import { sliceBlock } from '@warmbrick/signals';
import { pressuresOf, type ScoredMoment, type TruthLabel } from '@warmbrick/tuning';
import type { TrialSource } from '../trial/trial-source.js';

export interface MomentsAsked {
  /** Kinds of label that the score warns of. */
  readonly outcomes: readonly string[];
  readonly horizonH: number;
  /** Machine time between two moments. */
  readonly everyMs: number;
  readonly onProgress?: (samples: number) => void;
}

export interface GatheredMoments {
  readonly moments: readonly ScoredMoment[];
  readonly machines: ReadonlyMap<string, string>;
  readonly samples: number;
}

/** Engine hours are looked at this often. */
const stepMs = 900_000;

interface Life {
  readonly analyzer: Analyzer;
  readonly machineClass: string;
  /** Time and engine hours at the end of each step. */
  readonly hours: [timeMs: number, h: number][];
  readonly scores: { readonly atMs: number; readonly score: RiskScore }[];
}

/**
 * Runs the analysis and takes a moment every `everyMs`. A moment counts when the machine lived on for the horizon, or it came
 * within it; one at which it was there already does not.
 */
export async function gatherMoments(
  source: TrialSource,
  labels: readonly TruthLabel[],
  asked: MomentsAsked,
): Promise<GatheredMoments> {
  const lives = new Map<string, Life>();
  let samples = 0;
  await source.feed({
    block(block, profile) {
      const { machineId } = block;
      let life = lives.get(machineId);
      if (life === undefined) {
        const analyzer = createAnalyzer({ machineId, profile, thresholds: builtInThresholds });
        life = { analyzer, machineClass: profile.machineClass, hours: [], scores: [] };
        lives.set(machineId, life);
      }
      for (let from = 0; from < block.timeMs.length; ) {
        const endMs = (Math.floor((block.timeMs[from] as number) / stepMs) + 1) * stepMs;
        let to = from;
        while (to < block.timeMs.length && (block.timeMs[to] as number) < endMs) to++;
        life.analyzer.push(sliceBlock(block, from, to));
        look(life, endMs, asked.everyMs);
        from = to;
      }
      samples += block.timeMs.length;
      asked.onProgress?.(samples);
    },
    restart() {
      lives.clear();
      samples = 0;
    },
  });
  const moments = [...lives]
    .sort(([a], [b]) => (a < b ? -1 : 1))
    .flatMap(([id, life]) => momentsOf(id, life, { labels, asked }));
  const machines = new Map([...lives].map(([id, life]) => [id, life.machineClass]));
  return { moments, machines, samples };
}

function look({ analyzer, hours, scores }: Life, endMs: number, everyMs: number): void {
  const summary = analyzer.summary();
  if (summary === null) return;
  hours.push([endMs, summary.residency.runningS / 3600]);
  const last = scores.at(-1)?.atMs ?? Number.NEGATIVE_INFINITY;
  if (summary.score !== null && endMs - last >= everyMs) scores.push({ atMs: endMs, score: summary.score });
}

function momentsOf(
  machineId: string,
  { hours, scores }: Life,
  { labels, asked }: { readonly labels: readonly TruthLabel[]; readonly asked: MomentsAsked },
): ScoredMoment[] {
  const own = labels.filter((label) => label.machineId === machineId && asked.outcomes.includes(label.kind));
  const lifeH = hours.at(-1)?.[1] ?? 0;
  return scores.flatMap(({ atMs, score }) => {
    const isThere = own.some(
      ({ startedMs, endedMs }) => startedMs <= atMs && (endedMs ?? Number.POSITIVE_INFINITY) > atMs,
    );
    if (isThere) return [];
    const nowH = hoursAt(hours, atMs);
    const hasCome = own.some(
      ({ startedMs }) =>
        startedMs > atMs && hoursAt(hours, startedMs) - nowH <= asked.horizonH && startedMs <= (hours.at(-1)?.[0] ?? 0),
    );
    if (!hasCome && lifeH - nowH < asked.horizonH) return [];
    return [{ machineId, score: score.value, pressures: pressuresOf(score), hasCome }];
  });
}

/** Engine hours at a time, as of the last step before it. */
function hoursAt(hours: Life['hours'], timeMs: number): number {
  let low = 0;
  let high = hours.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if ((hours[middle]?.[0] as number) <= timeMs) low = middle + 1;
    else high = middle;
  }
  return hours[low - 1]?.[1] ?? 0;
}
