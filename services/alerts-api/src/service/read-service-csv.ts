/** A CSV of service records as the list that the import takes. Source: RFC 4180. */

import { parse } from 'csv-parse/sync';
import { ProblemError } from '../http/problem.js';

/** Columns that are known; the first three are wanted. */
const columns = ['machineId', 'item', 'at', 'engineHours', 'note', 'by'] as const;
const wanted = columns.slice(0, 3);
/** Lines at most, as of the JSON form. */
const mostLines = 2000;

/**
 * Reads the text; the fields are checked by the schema of the import afterwards.
 *
 * Errors: the problem `invalid-request` that names the line, a column that is missing or one that is not known.
 */
export function readServiceCsv(text: string): Record<string, unknown>[] {
  let rows: Record<string, string>[];
  try {
    rows = parse(text, {
      columns: checkedColumns,
      bom: true,
      trim: true,
      skip_empty_lines: true,
      delimiter: [',', ';'],
      to: mostLines + 1,
    });
  } catch (error) {
    if (error instanceof ProblemError) throw error;
    throw refusal((error as Error).message);
  }
  if (rows.length > mostLines) throw refusal(`At most ${mostLines} lines at a time.`);
  return rows.map(toRecord);
}

function checkedColumns(names: string[]): string[] {
  const known: readonly string[] = columns;
  const unknown = names.filter((name) => !known.includes(name));
  const missing = wanted.filter((name) => !names.includes(name));
  if (unknown.length > 0) throw refusal(`Unknown columns: ${unknown.join(', ')}. Known are ${columns.join(', ')}.`);
  if (missing.length > 0) throw refusal(`Missing columns: ${missing.join(', ')}.`);
  return names;
}

/** An empty cell is a value that is not given; a number that is none stays text for the schema to refuse. */
function toRecord(row: Record<string, string>): Record<string, unknown> {
  const given = Object.entries(row).filter(([, value]) => value !== '');
  return Object.fromEntries(
    given.map(([name, value]) => [
      name,
      name === 'engineHours' && Number.isFinite(Number(value)) ? Number(value) : value,
    ]),
  );
}

function refusal(message: string): ProblemError {
  return new ProblemError('invalid-request', 'The CSV cannot be read.', [{ path: 'body', message }]);
}
