/** Truth from files: labelled events and service records as CSV, or the truth file of a simulation. */

import { readFile } from 'node:fs/promises';
import { parseTime, splitCells } from '@warmbrick/recordings';
import { OperatingError } from '@warmbrick/runtime';
import type { TruthLabel } from '@warmbrick/tuning';
import { simulatedLabel } from './simulated-label.js';

/** Labels of one file at most. Source: engineering judgement; a fleet of 1000 machines makes 100 000 in a year. */
const mostLabels = 1_000_000;

/**
 * Reads labels.
 *
 * CSV: a header with `machineId`, `kind`, `start` and, as far as known, `end` and `required` (true or false; a label that is
 * not required may be found and need not be); other columns are ignored. Times are RFC 3339 with an offset. NDJSON: lines of
 * `warmbrick simulate --truth`.
 * Errors: OperatingError `bad-truth`, naming the line, what was expected and what to do.
 */
export async function readTruth(path: string): Promise<TruthLabel[]> {
  const lines = (await readText(path)).split(/\r?\n/);
  const isSimulated = lines[0]?.trimStart().startsWith('{') === true;
  const labels = isSimulated ? simulatedLabels(lines, path) : writtenLabels(lines, path);
  if (labels.length > mostLabels) throw bad(path, `${labels.length} labels are too many; at most ${mostLabels}.`);
  return labels;
}

function simulatedLabels(lines: readonly string[], path: string): TruthLabel[] {
  return lines.flatMap((line, i) => {
    if (line.trim() === '') return [];
    let event: unknown;
    try {
      event = JSON.parse(line);
    } catch (cause) {
      throw bad(`${path}, line ${i + 1}`, `not JSON: ${(cause as Error).message}.`);
    }
    const { machineId, kind, startedAt } = event as Record<string, unknown>;
    if (typeof machineId !== 'string' || typeof kind !== 'string' || typeof startedAt !== 'string') {
      throw bad(`${path}, line ${i + 1}`, 'expected machineId, kind and startedAt.');
    }
    const label = simulatedLabel(event as Parameters<typeof simulatedLabel>[0]);
    return label === null ? [] : [label];
  });
}

interface Columns {
  readonly machineId: number;
  readonly kind: number;
  readonly start: number;
  readonly end: number;
  readonly required: number;
}

function writtenLabels(lines: readonly string[], path: string): TruthLabel[] {
  const separator = (lines[0] ?? '').includes(';') ? ';' : ',';
  const head = (splitCells((lines[0] ?? '').replace(/^\uFEFF/, ''), separator) ?? []).map((cell) => cell.trim());
  const columns: Columns = {
    machineId: head.indexOf('machineId'),
    kind: head.indexOf('kind'),
    start: head.indexOf('start'),
    end: head.indexOf('end'),
    required: head.indexOf('required'),
  };
  for (const name of ['machineId', 'kind', 'start'] as const) {
    if (columns[name] < 0) throw bad(`${path}, line 1`, `there is no column "${name}"; found: ${head.join(', ')}.`);
  }
  return lines.slice(1).flatMap((line, i) => {
    if (line.trim() === '') return [];
    const cells = splitCells(line, separator);
    const where = `${path}, line ${i + 2}`;
    if (cells === null) throw bad(where, 'a quote is not closed.');
    return [writtenLabel(cells, columns, where)];
  });
}

function writtenLabel(cells: readonly string[], columns: Columns, where: string): TruthLabel {
  const cell = (at: number) => (cells[at] ?? '').trim();
  const startedMs = parseTime(cell(columns.start));
  const endText = cell(columns.end);
  const endedMs = endText === '' ? null : parseTime(endText);
  if (cell(columns.machineId) === '' || cell(columns.kind) === '') throw bad(where, 'a machine and a kind are needed.');
  for (const [name, timeMs] of [
    ['start', startedMs],
    ['end', endedMs ?? 0],
  ] as const) {
    if (Number.isNaN(timeMs)) throw bad(where, `${name} is no time with an offset, such as 2026-03-02T06:00:00Z.`);
  }
  if (endedMs !== null && endedMs < startedMs) throw bad(where, 'it ends before it starts.');
  const required = cell(columns.required).toLowerCase();
  if (!['', 'true', 'false'].includes(required)) throw bad(where, 'required is neither true nor false.');
  return {
    machineId: cell(columns.machineId),
    kind: cell(columns.kind),
    startedMs,
    endedMs,
    isRequired: required !== 'false',
  };
}

async function readText(path: string): Promise<string> {
  try {
    return await readFile(path, 'utf8');
  } catch (cause) {
    throw new OperatingError('the truth cannot be read.', {
      code: 'bad-truth',
      where: path,
      remedy: 'Check the path given to --truth.',
      cause,
    });
  }
}

function bad(where: string, message: string): OperatingError {
  const remedy = 'Write a CSV with the columns machineId, kind, start, end, required.';
  return new OperatingError(message, { code: 'bad-truth', where, remedy });
}
