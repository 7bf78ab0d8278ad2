/** A sheet as one page of HTML that prints: black on white, A4, no script, nothing from elsewhere. */

import { createHash } from 'node:crypto';
import { courseRuns } from './course-path.js';
import { pageStyle } from './page-style.js';
import type { PrintBlock, PrintCourse, PrintSheet } from './print-sheet.js';

/** Source: W3C Content Security Policy 3, 2.3.1: an inline style is allowed by the hash of its text. */
export const pageStylePolicy = `'sha256-${createHash('sha256').update(pageStyle).digest('base64')}'`;

/** Size of a small course, in CSS pixels. */
const courseBox = { width: 96, height: 16 };

/** The whole page. Every text is escaped. */
export function sheetHtml(sheet: PrintSheet): string {
  const { title, subtitle, foot, blocks } = sheet;
  return [
    '<!doctype html>',
    '<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">',
    `<title>${escaped(title)}</title><style>${pageStyle}</style></head><body><main>`,
    `<h1>${escaped(title)}</h1><p class="subtitle">${escaped(subtitle)}</p>`,
    ...blocks.map(blockHtml),
    `<footer>${escaped(foot)}</footer></main></body></html>`,
    '',
  ].join('\n');
}

function blockHtml(block: PrintBlock): string {
  switch (block.kind) {
    case 'heading':
      return `<h${block.level}>${escaped(block.text)}</h${block.level}>`;
    case 'text':
      return `<p${block.isQuiet === true ? ' class="quiet"' : ''}>${escaped(block.text)}</p>`;
    case 'list':
      return `<ul>${block.items.map((item) => `<li>${escaped(item)}</li>`).join('')}</ul>`;
    case 'facts':
      return `<dl>${block.rows.map(([name, value]) => `<div><dt>${escaped(name)}</dt><dd>${escaped(value)}</dd></div>`).join('')}</dl>`;
    case 'caution':
      return `<p class="caution"><strong>Caution.</strong> ${escaped(block.text)}</p>`;
    case 'table':
      return tableHtml(block);
    case 'window':
      return windowHtml(block);
  }
}

function tableHtml({ title, columns, rows }: Extract<PrintBlock, { kind: 'table' }>): string {
  const side = (at: number) => (columns[at]?.isNumber === true ? ' class="number"' : '');
  const head = columns.map(({ head }, at) => `<th scope="col"${side(at)}>${escaped(head)}</th>`).join('');
  const body = rows.map((row) => `<tr>${row.map((cell, at) => `<td${side(at)}>${escaped(cell)}</td>`).join('')}</tr>`);
  return `<table><caption>${escaped(title)}</caption><thead><tr>${head}</tr></thead><tbody>${body.join('\n')}</tbody></table>`;
}

function windowHtml({ title, marks, eventRatio, rows }: Extract<PrintBlock, { kind: 'window' }>): string {
  const head = marks.map((mark) => `<th scope="col" class="number">${escaped(mark)}</th>`).join('');
  const body = rows.map(
    (row) =>
      `<tr><th scope="row">${escaped(row.label)}</th><td>${courseSvg(row, eventRatio)}</td>` +
      `${row.cells.map((cell) => `<td class="number">${escaped(cell)}</td>`).join('')}</tr>`,
  );
  return (
    `<table class="window"><caption>${escaped(title)}</caption><thead><tr><th scope="col">signal</th>` +
    `<th scope="col">course</th>${head}</tr></thead><tbody>${body.join('\n')}</tbody></table>`
  );
}

function courseSvg({ label, course }: PrintCourse, eventRatio: number): string {
  const { width, height } = courseBox;
  const lines = courseRuns(course, { width, height: height - 2 }).map((run) => {
    const points = run.map(([x, y]) => `${round(x)} ${round(y + 1)}`);
    // A point alone would have no length: a short stroke makes it visible.
    return `M${points.join('L')}${run.length === 1 ? 'h1' : ''}`;
  });
  const event = `M${round(eventRatio * width)} 0v${height}`;
  return (
    `<svg viewBox="0 0 ${width} ${height}" width="${width}" height="${height}" role="img" ` +
    `aria-label="${escaped(`course of ${label}`)}"><path class="event" d="${event}"/><path d="${lines.join('')}"/></svg>`
  );
}

function round(value: number): number {
  return Math.round(value * 10) / 10;
}

function escaped(text: string): string {
  return text.replace(/[&<>"']/g, (sign) => `&#${sign.charCodeAt(0)};`);
}
