/** Plays recordings through the analysis and a rule, as if they had come live. */

import { type HistoryEntry, type Rule, type TriedRule, tryRule } from '@warmbrick/alerting';
import { type Analyzer, analysedChannels, createAnalyzer, type ThresholdSet } from '@warmbrick/analysis';
import { type ReadOptions, readInOrder } from '@warmbrick/recordings';
import { type SampleBlock, sliceBlock } from '@warmbrick/signals';
import type { ProfileBook } from '../profile-book.js';

/** Machine time between looks at figures and findings. Source: engineering judgement: as often as gateways send. */
const lookMs = 60_000;

export interface TryInput {
  readonly paths: readonly string[];
  readonly profiles: ProfileBook;
  readonly thresholds: ThresholdSet;
  readonly reading: ReadOptions;
  readonly onProgress?: (samples: number) => void;
}

export interface TryOutcome extends TriedRule {
  readonly machines: number;
  readonly samples: number;
  readonly fromMs: number | null;
  readonly toMs: number | null;
}

interface Machine {
  readonly analyzer: Analyzer;
  readonly entries: HistoryEntry[];
}

/** Tries a rule on recordings. Errors: OperatingError for recordings that cannot be read. */
export async function tryOnRecordings(rule: Rule, input: TryInput): Promise<TryOutcome> {
  const machines = new Map<string, Machine>();
  let samples = 0;
  const sink = {
    block(block: SampleBlock) {
      take(machineOf(machines, input, block.machineId), block);
      samples += block.timeMs.length;
      input.onProgress?.(samples);
    },
    restart() {
      machines.clear();
      samples = 0;
    },
  };
  await readInOrder(input.paths, { channels: analysedChannels, ...input.reading }, sink);
  const times = [...machines.values()].flatMap(({ entries }) => [entries[0], entries.at(-1)]);
  const known = times.flatMap((entry) => (entry === undefined ? [] : [entry.atMs]));
  const tried = tryRule(
    rule,
    [...machines].map(([machineId, { entries }]) => ({
      place: { machineId, fleetId: 'main', profile: input.profiles.profileOf(machineId) },
      entries,
    })),
  );
  return {
    ...tried,
    machines: machines.size,
    samples,
    fromMs: known.length === 0 ? null : Math.min(...known),
    toMs: known.length === 0 ? null : Math.max(...known),
  };
}

function machineOf(machines: Map<string, Machine>, input: TryInput, machineId: string): Machine {
  const known = machines.get(machineId);
  if (known !== undefined) return known;
  const { profiles, thresholds } = input;
  const analyzer = createAnalyzer({ machineId, profile: profiles.profileOf(machineId), thresholds });
  const machine = { analyzer, entries: [] };
  machines.set(machineId, machine);
  return machine;
}

/** In pieces of a minute, each of which is a look. */
function take({ analyzer, entries }: Machine, block: SampleBlock): void {
  const { timeMs } = block;
  for (let from = 0; from < timeMs.length; ) {
    const minute = Math.floor((timeMs[from] as number) / lookMs);
    let to = from + 1;
    while (to < timeMs.length && Math.floor((timeMs[to] as number) / lookMs) === minute) to++;
    const { findings } = analyzer.push(sliceBlock(block, from, to));
    entries.push({ atMs: timeMs[to - 1] as number, findings, summary: analyzer.summary() });
    from = to;
  }
}
