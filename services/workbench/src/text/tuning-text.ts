/** The result of a search as a readable report. */

import type { TriedSet, TuningDocument } from '../tune/tuning-document.js';
import { textTable } from './text-table.js';

const verdictWords = {
  unproven:
    'Unproven: it costs less on the held-out machines, but they are too few to prove anything. Hold out five or more.',
  better: 'Better: on machines that it was not fitted to it costs less, by more than chance explains.',
  'no-better':
    'No better: on machines that it was not fitted to, the set it was searched from does as well. Keep that.',
  'no-signal':
    'No signal: its findings are no nearer to the labels than chance. Nothing here is a reason to change a threshold.',
} as const;

/** Sets of the front that are shown; the document has all. */
const frontShown = 12;

/** The report. */
export function tuningText(document: TuningDocument): string {
  const { verdict, warnings, split } = document;
  const parted =
    split.atMs === null
      ? `${split.tuning.length} machines to fit, ${split.heldOut.length} held out`
      : `fitted before ${new Date(split.atMs).toISOString()}, judged after`;
  const parts = [
    `${document.judged} sets judged by ${document.labels.tuning} labels, ${document.labels.heldOut} held out; ${parted}.` +
      (document.isCancelled ? ' The search was stopped; the same command with its journal goes on.' : ''),
    valuesTable(document),
    figuresTable(document),
    `${verdictWords[verdict.verdict]}\n(chance of such a gain ${percent(verdict.chanceOfGain)}, of such a cost with labels at random ${percent(verdict.chanceOfCost)})`,
    warnings.map(({ text }) => `Mind: ${text}`).join('\n'),
    sensitivityTable(document),
    document.objectives.length > 1 ? frontTable(document) : '',
  ];
  return `${parts.filter((part) => part !== '').join('\n\n')}\n`;
}

function valuesTable({ axes, best, before, base }: TuningDocument): string {
  const rows = axes.map(({ name, min, max }) => [
    name,
    shown(before.tuning.values[name]),
    shown(best.tuning.values[name]),
    `${min} to ${max}`,
  ]);
  return textTable([['threshold', base, 'found', 'searched'], ...rows]);
}

function figuresTable({ best, before }: TuningDocument): string {
  const names = Object.keys(best.heldOut.figures) as (keyof TriedSet['figures'])[];
  const interval = (set: TuningDocument['best']['heldOut'], name: keyof TriedSet['figures']) => {
    const found = set.intervals[name];
    return found === null ? '' : `${shown(found.low)} to ${shown(found.high)}`;
  };
  const rows = names.map((name) => [
    name,
    shown(before.heldOut.figures[name]),
    interval(before.heldOut, name),
    shown(best.heldOut.figures[name]),
    interval(best.heldOut, name),
  ]);
  return textTable([['on held-out machines', 'before', '90 %', 'found', '90 %'], ...rows]);
}

function sensitivityTable({ sensitivity }: TuningDocument): string {
  const rows = sensitivity.map(({ name, riseRatio, flatFrom, flatTo }) => [
    name,
    Number.isFinite(riseRatio) ? `+${Math.round(riseRatio * 100)} %` : 'from nothing',
    `${shown(flatFrom)} to ${shown(flatTo)}`,
  ]);
  return textTable([['threshold', 'cost at its worst', 'as good between'], ...rows]);
}

function frontTable({ front, axes, objectives }: TuningDocument): string {
  const rows = front
    .slice(0, frontShown)
    .map((set) => [
      ...axes.map(({ name }) => shown(set.values[name])),
      ...objectives.map((name) => shown(set.figures[name])),
    ]);
  const left = front.length - rows.length;
  const table = textTable([[...axes.map(({ name }) => name), ...objectives], ...rows]);
  return `Sets that no other beats in every objective:\n${table}${left > 0 ? `\nand ${left} more` : ''}`;
}

function shown(value: number | null | undefined): string {
  if (value === null || value === undefined) return '-';
  return String(Number(value.toPrecision(4)));
}

function percent(ratio: number): string {
  return `${Number((ratio * 100).toPrecision(2))} %`;
}
