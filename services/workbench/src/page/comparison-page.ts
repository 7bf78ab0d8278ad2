/** A comparison as a page by itself: charts, tables and every change, nothing fetched, and it prints. */

import { type ComparisonDocument, toInstant } from '@warmbrick/contracts';
import type { MachineComparison } from '@warmbrick/tuning';
import { changeLine } from '../text/comparison-text.js';
import { escaped, pageOf } from './page-frame.js';
import { stripChart } from './strip-chart.js';

/** Changes listed for a machine; the JSON document has all of them. */
const changesListed = 500;
/** Machines drawn; the table has all of them. */
const machinesDrawn = 60;

/** The page. Shapes: `comparisons` are those that the document was made of. */
export function comparisonPage(document: ComparisonDocument, comparisons: readonly MachineComparison[]): string {
  const { sets, machines } = document;
  const title = `${sets.before} against ${sets.after}`;
  const changed = comparisons.filter((one) => one.changes.length > 0).slice(0, machinesDrawn);
  const body = [
    `<h1>${escaped(title)}</h1>`,
    `<p>${summaryWords(document)}</p>`,
    thresholdTable(document),
    countsSection('By kind of finding', document.byKind),
    countsSection('By class of machine', document.byClass),
    alertTable(document),
    machineTable(document),
    ...changed.map((one) => machineSection(one, document)),
    `<p class="quiet">${machines.reduce((sum, one) => sum + one.samples, 0).toLocaleString('en')} samples. Times are UTC. `,
    'Exhaust and what is around it get hot: park and secure a machine before any inspection or burn-off; the ',
    'manufacturer’s manual and local rules come first.</p>',
  ];
  return pageOf(title, body.join('\n'));
}

function summaryWords({ isEqual, totals, machines }: ComparisonDocument): string {
  if (isEqual) return 'Nothing would change: both sets find the same here.';
  const changed = machines.filter((machine) => !machine.isEqual).length;
  return (
    `Of ${totals.before} findings ${totals.vanishes} vanish, ${totals.moves} move and ${totals.changes} are said otherwise; ` +
    `${totals.appears} appear. ${changed} of ${machines.length} machines differ.`
  );
}

function thresholdTable({ thresholds, sets }: ComparisonDocument): string {
  const rows = Object.entries(thresholds).map(([name, { before, after }]) => [name, before, after]);
  if (rows.length === 0) return '<p>The sets are equal in every threshold.</p>';
  return section('What was moved', table(['threshold', sets.before, sets.after], rows));
}

function countsSection(title: string, counts: ComparisonDocument['byKind']): string {
  const most = Math.max(1, ...Object.values(counts).map((c) => Math.max(c.before, c.after)));
  const rows = Object.entries(counts).map(([name, c]) => [
    name,
    { html: countBar(c, most) },
    c.before,
    c.after,
    c.appears,
    c.vanishes,
    c.moves,
    c.changes,
  ]);
  return section(title, table(['', '', 'before', 'after', 'appear', 'vanish', 'move', 'change'], rows));
}

/** Two bars, before over after. */
function countBar({ before, after }: { before: number; after: number }, most: number): string {
  const width = (count: number) => Math.round((count / most) * 160);
  return (
    `<svg class="bar" width="160" height="14" role="img" aria-label="${before} before, ${after} after">` +
    `<rect class="before" y="1" height="5" width="${width(before)}"/><rect class="after" y="8" height="5" width="${width(after)}"/></svg>`
  );
}

function alertTable({ alerts }: ComparisonDocument): string {
  if (alerts === null) return '';
  const rows = Object.entries(alerts).map(([rule, { before, after }]) => [rule, before, after]);
  return section('Alerts that would have opened', table(['rule', 'before', 'after'], rows));
}

function machineTable({ machines }: ComparisonDocument): string {
  const rows = machines
    .filter((machine) => !machine.isEqual)
    .map(({ machineId, machineClass, changes, score }) => [
      machineId,
      machineClass,
      changes.length,
      score.before ?? '–',
      score.after ?? '–',
    ]);
  if (rows.length === 0) return '';
  return section('Machines that differ', table(['machine', 'class', 'changes', 'risk before', 'risk after'], rows));
}

function machineSection(comparison: MachineComparison, document: ComparisonDocument): string {
  const machine = document.machines.find((one) => one.machineId === comparison.machineId);
  const observed = comparison.after.summary?.observed;
  if (machine === undefined || observed === undefined) return '';
  const lines = machine.changes
    .slice(0, changesListed)
    .map((change) => `<li class="${change.type}">${escaped(changeLine(change))}</li>`);
  const left = machine.changes.length - lines.length;
  return section(
    machine.machineId,
    `<p class="quiet">${escaped(machine.machineClass)}, ${toInstant(observed.fromMs).slice(0, 16)} to ${toInstant(observed.toMs).slice(0, 16)} UTC</p>` +
      `${stripChart(comparison)}<ul>${lines.join('')}</ul>${left > 0 ? `<p>and ${left} more</p>` : ''}`,
  );
}

function section(title: string, html: string): string {
  return `<section><h2>${escaped(title)}</h2>${html}</section>`;
}

type Cell = string | number | { readonly html: string };

function table(head: readonly string[], rows: readonly (readonly Cell[])[]): string {
  const cell = (value: Cell) => {
    if (typeof value === 'object') return `<td>${value.html}</td>`;
    return typeof value === 'number' ? `<td class="number">${value}</td>` : `<td>${escaped(value)}</td>`;
  };
  const headRow = head.map((name) => `<th scope="col">${escaped(name)}</th>`).join('');
  return `<div class="wide"><table><thead><tr>${headRow}</tr></thead><tbody>${rows
    .map((row) => `<tr>${row.map(cell).join('')}</tr>`)
    .join('')}</tbody></table></div>`;
}
