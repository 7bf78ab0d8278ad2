/** A table as CSV. Source: RFC 4180; text that a spreadsheet would take for a formula is quoted away (OWASP, CSV injection). */

import type { Table, TableColumn } from './table.js';

/** The text: a line of names, then a line a row; a missing value is empty. */
export function toCsv({ columns, length }: Table): string {
  const lines = [columns.map(({ name }) => quoted(name)).join(',')];
  for (let row = 0; row < length; row++) lines.push(columns.map((column) => cell(column, row)).join(','));
  return `${lines.join('\r\n')}\r\n`;
}

function cell(column: TableColumn, row: number): string {
  const value = column.values[row];
  if (value === null || value === undefined || Number.isNaN(value)) return '';
  if (column.kind === 'time') return new Date(value as number).toISOString();
  return column.kind === 'number' ? String(value) : quoted(String(value));
}

function quoted(text: string): string {
  const safe = /^[=+\-@\t\r]/.test(text) ? `'${text}` : text;
  return /[",\r\n]/.test(safe) ? `"${safe.replaceAll('"', '""')}"` : safe;
}
