/** Findings in plain words. */

import type { FindingDocument } from '@warmbrick/contracts';
import { formatDuration } from './duration.js';
import { furtherKinds } from './further-kinds.js';

export type FindingKind = FindingDocument['kind'];
export type Severity = FindingDocument['severity'];

export interface KindWords {
  readonly one: string;
  readonly many: string;
  /** What happened, with the time it took put in place of "{length}". */
  readonly sentence: string;
  readonly ongoing: string;
  readonly meaning: string;
}

const kinds: Readonly<Record<FindingKind, KindWords>> = {
  'hot-shutdown': {
    one: 'hot stop',
    many: 'hot stops',
    sentence: 'Stopped hot',
    ongoing: 'Stopped hot',
    meaning: 'The engine was switched off before the turbine had cooled down at base idle.',
  },
  'idle-streak': {
    one: 'long idle',
    many: 'long idles',
    sentence: 'Idled {length}',
    ongoing: 'Idling, {length} so far',
    meaning: 'The engine idled past the limit without work in between.',
  },
  'cold-dwell': {
    one: 'cold stretch',
    many: 'cold stretches',
    sentence: 'Ran below the catalyst window for {length}',
    ongoing: 'Running below the catalyst window, {length} so far',
    meaning: 'The exhaust stayed too cold for the catalyst, at idle or at low load.',
  },
  'early-load': {
    one: 'early load',
    many: 'early loads',
    sentence: 'Loaded too soon after a cold start',
    ongoing: 'Loaded too soon after a cold start',
    meaning: 'Load was put on before the warm-up that the cold called for.',
  },
  ...furtherKinds,
  'data-gap': {
    one: 'gap in the data',
    many: 'gaps in the data',
    sentence: 'No data for {length}',
    ongoing: 'No data, {length} so far',
    meaning: 'Nothing proves what the machine did in this time; it counts neither as idle nor as off.',
  },
  'engine-run': {
    one: 'engine run',
    many: 'engine runs',
    sentence: 'Engine ran for {length}',
    ongoing: 'Engine running, {length} so far',
    meaning: 'From start to stop, for reference.',
  },
};

/** Every kind, what matters most first; an engine run is no complaint and comes last. */
export const kindOrder: readonly FindingKind[] = Object.keys(kinds) as FindingKind[];

/** The name of a kind: "hot stop". Missing: an unknown kind is named by its code. */
export function kindName(kind: string, count = 1): string {
  const known = (kinds as Record<string, KindWords | undefined>)[kind];
  if (known === undefined) return kind.replace(/-/g, ' ');
  return count === 1 ? known.one : known.many;
}

/** What a kind means, in one sentence; empty for an unknown kind. */
export function kindMeaning(kind: string): string {
  return (kinds as Record<string, KindWords | undefined>)[kind]?.meaning ?? '';
}

/** Counts in words: "1 hot stop, 2 long idles". Missing: "nothing found" when there is nothing but engine runs. */
export function countWords(counts: Readonly<Record<string, number>>): string {
  const unknown = Object.keys(counts).filter((kind) => !(kindOrder as readonly string[]).includes(kind));
  const said = [...kindOrder, ...unknown]
    .filter((kind) => kind !== 'engine-run' && (counts[kind] ?? 0) > 0)
    .map((kind) => `${counts[kind]}\u00a0${kindName(kind, counts[kind]).replace(/ /g, '\u00a0')}`);
  return said.length === 0 ? 'nothing found' : said.join(', ');
}

/** What happened: "Idled 1 h 12 min", or "Idling, 1 h 12 min so far" for one that goes on. Units: `nowMs` epoch ms. */
export function findingSentence(finding: FindingDocument, nowMs: number): string {
  const known = (kinds as Record<string, KindWords | undefined>)[finding.kind];
  const length = formatDuration(findingLengthS(finding, nowMs));
  if (known === undefined) return `${kindName(finding.kind)}, ${length}`;
  const sentence = (finding.endedAt === null ? known.ongoing : known.sentence).replace('{length}', length);
  return `${sentence}${detailWords(finding)}`;
}

/** The one figure that belongs into the sentence. Missing: empty when the finding does not carry it. */
function detailWords({ kind, values }: FindingDocument): string {
  if (kind === 'hot-shutdown' && typeof values.cooldownS === 'number') {
    return ` after ${formatDuration(values.cooldownS)} of cool-down`;
  }
  if (kind === 'early-load' && typeof values.warmupS === 'number') {
    return `, ${formatDuration(values.warmupS)} after it`;
  }
  return '';
}

/** Length of a finding in seconds, up to now while it goes on. Units: `nowMs` epoch ms. Range: at least 0. */
export function findingLengthS(finding: FindingDocument, nowMs: number): number {
  const endMs = finding.endedAt === null ? nowMs : Date.parse(finding.endedAt);
  return Math.max(0, (endMs - Date.parse(finding.startedAt)) / 1000);
}

const severityRanks: Readonly<Record<Severity, number>> = { info: 0, notice: 1, warning: 2, severe: 3 };

/** How many bricks stand for a severity: info 0, notice 1, warning 2, severe 3. */
export function severityRank(severity: Severity): number {
  return severityRanks[severity] ?? 0;
}
