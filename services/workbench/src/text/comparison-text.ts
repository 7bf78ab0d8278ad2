/** A comparison of two threshold sets as a readable report. */

import type { ChangeDocument, ComparisonDocument } from '@warmbrick/contracts';
import { durationText } from './durations.js';
import { findingWords } from './finding-words.js';
import { textTable } from './text-table.js';

/** Machines named in a short report; a long one names all. */
const machinesShown = 20;

/** The report: short by kind, class and machine, long with every change. */
export function comparisonText(document: ComparisonDocument, isLong: boolean): string {
  const { sets, thresholds, machines } = document;
  const title = `${sets.before} against ${sets.after} on ${machines.length} machine${machines.length === 1 ? '' : 's'}`;
  const moved = Object.entries(thresholds).map(([name, { before, after }]) => `  ${name}: ${before} -> ${after}`);
  const outcomes = outcomesTable(document);
  if (document.isEqual) {
    const same = moved.length === 0 ? 'The sets are equal.' : 'The sets differ and find the same here.';
    return `${[title, ...moved, same].join('\n')}\n${outcomes === '' ? '' : `\n${outcomes}\n`}`;
  }
  const parts = [
    [title, ...moved].join('\n'),
    countsTable('finding', document.byKind),
    Object.keys(document.byClass).length > 1 ? countsTable('class', document.byClass) : '',
    outcomes,
    alertsTable(document),
    machinesTable(document, isLong),
    isLong ? changesText(document) : 'Every change: --long, or --html for a page.',
  ];
  return `${parts.filter((part) => part !== '').join('\n\n')}\n`;
}

function countsTable(name: string, counts: ComparisonDocument['byKind']): string {
  const rows = Object.entries(counts).map(([kind, c]) =>
    [kind, c.before, c.after, c.appears, c.vanishes, c.moves, c.changes].map(String),
  );
  return textTable([[name, 'before', 'after', 'appear', 'vanish', 'move', 'change'], ...rows]);
}

function outcomesTable({ outcomes }: ComparisonDocument): string {
  if (outcomes === null) return '';
  const { before, after } = outcomes;
  const counts = (['labels', 'hits', 'misses', 'raised', 'falseAlarms'] as const).map((name) => [
    name,
    String(before[name]),
    '',
    String(after[name]),
    '',
  ]);
  const figures = Object.keys(before.figures).map((name) => [
    name,
    ...figureCells(before.figures[name]),
    ...figureCells(after.figures[name]),
  ]);
  return textTable([['by what really happened', 'before', '90 %', 'after', '90 %'], ...counts, ...figures]);
}

function figureCells(figure: { value: number | null; low: number | null; high: number | null } | undefined): string[] {
  const shown = (value: number | null | undefined) =>
    value === null || value === undefined ? '-' : String(Number(value.toPrecision(4)));
  return [shown(figure?.value), figure?.low === null ? '' : `${shown(figure?.low)} to ${shown(figure?.high)}`];
}

function alertsTable({ alerts }: ComparisonDocument): string {
  if (alerts === null) return '';
  const rows = Object.entries(alerts).map(([rule, { before, after }]) => [rule, String(before), String(after)]);
  return rows.length === 0 ? 'No alert would have opened.' : textTable([['alert by rule', 'before', 'after'], ...rows]);
}

function machinesTable(document: ComparisonDocument, isLong: boolean): string {
  const changed = document.machines.filter((machine) => !machine.isEqual);
  const shown = isLong ? changed : changed.slice(0, machinesShown);
  const rows = shown.map(({ machineId, changes, score, residency }) => [
    machineId,
    String(changes.length),
    score.before === score.after ? (score.after?.toFixed(1) ?? '-') : `${score.before ?? '-'} -> ${score.after ?? '-'}`,
    Object.keys(residency).length === 0 ? '' : residencyWords(residency),
  ]);
  const left = changed.length - shown.length;
  return `${textTable([['machine', 'changes', 'soot risk', 'time'], ...rows])}${left > 0 ? `\nand ${left} more` : ''}`;
}

function residencyWords(residency: ComparisonDocument['machines'][number]['residency']): string {
  const first = Object.entries(residency)[0];
  if (first === undefined) return '';
  const [name, { before, after }] = first;
  const more = Object.keys(residency).length - 1;
  return `${name} ${before} -> ${after}${more > 0 ? ` and ${more} more` : ''}`;
}

function changesText({ machines }: ComparisonDocument): string {
  return machines
    .filter((machine) => machine.changes.length > 0)
    .map(({ machineId, changes }) => [machineId, ...changes.map((change) => `  ${changeLine(change)}`)].join('\n'))
    .join('\n\n');
}

/** One change in one line; times in UTC. */
export function changeLine(change: ChangeDocument): string {
  const { type, before, after, fields } = change;
  const one = after ?? before;
  if (one === null) return type;
  const at = one.startedAt.slice(0, 19).replace('T', ' ');
  const said = `${at} UTC  ${type.padEnd(8)} ${change.kind}: ${findingWords(one)}`;
  if (type === 'moves' && before !== null && after !== null) {
    return `${said} (began ${shift(before.startedAt, after.startedAt)})`;
  }
  if (type !== 'changes' || before === null || after === null) return said;
  const names = fields.map((name) => fieldWords(name, before, after)).slice(0, 4);
  return `${said} (${names.join(', ')})`;
}

function fieldWords(
  name: string,
  before: NonNullable<ChangeDocument['before']>,
  after: NonNullable<ChangeDocument['after']>,
): string {
  if (name === 'severity') return `${before.severity} -> ${after.severity}`;
  if (name === 'end') return `end ${before.endedAt ?? 'open'} -> ${after.endedAt ?? 'open'}`;
  return `${name} ${before.values[name] ?? '-'} -> ${after.values[name] ?? '-'}`;
}

function shift(before: string, after: string): string {
  const byS = (Date.parse(after) - Date.parse(before)) / 1000;
  return `${durationText(Math.abs(byS))} ${byS < 0 ? 'earlier' : 'later'}`;
}
