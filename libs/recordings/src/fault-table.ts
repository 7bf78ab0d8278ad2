/** Fault reports as a table: a row a code. */

import type { FaultReport, LampState } from '@warmbrick/signals';
import { csvCell } from './write-text.js';

export const faultColumns = [
  'machineId',
  'time',
  'sourceAddress',
  'kind',
  'spn',
  'fmi',
  'occurrenceCount',
  'conversionMethod',
  'lamps',
] as const;

export type FaultRow = Readonly<Record<(typeof faultColumns)[number], string | number | null>>;

/** Letters of the lamps in their order: malfunction, red stop, amber warning, protect. */
const lampLetters: Readonly<Record<LampState, string>> = { off: '0', on: '1', reserved: '2', unavailable: '3' };

/**
 * The rows of a report: one a code, or one without a code when the controller has none.
 *
 * `lamps` is four digits: malfunction, red stop, amber warning, protect. Source: SAE J1939-73, 5.7.1: 0 off, 1 on,
 * 2 reserved, 3 not available.
 */
export function faultRows(report: FaultReport): FaultRow[] {
  const { malfunction, redStop, amberWarning, protect } = report.lamps;
  const common = {
    machineId: report.machineId,
    time: new Date(report.timeMs).toISOString(),
    sourceAddress: report.sourceAddress,
    kind: report.kind,
    lamps: [malfunction, redStop, amberWarning, protect].map((lamp) => lampLetters[lamp]).join(''),
  };
  const none = { spn: null, fmi: null, occurrenceCount: null, conversionMethod: null };
  const codes = report.codes.length === 0 ? [none] : report.codes;
  return codes.map(({ spn, fmi, occurrenceCount, conversionMethod }) => ({
    ...common,
    spn,
    fmi,
    occurrenceCount,
    conversionMethod,
  }));
}

/** Rows of a fault table as CSV; no value is a blank. */
export function faultCsv(rows: readonly FaultRow[]): string {
  return rows.map((row) => `${faultColumns.map((name) => csvCell(String(row[name] ?? ''))).join(',')}\n`).join('');
}

/** Rows of a fault table as NDJSON. */
export function faultNdjson(rows: readonly FaultRow[]): string {
  return rows.map((row) => `${JSON.stringify(row)}\n`).join('');
}
