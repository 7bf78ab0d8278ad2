/** The ledger: the accounts while a block is folded. */

import type { ObservedBlock } from './observed-block.js';
import { type ResidencyRow, residencyRowS } from './residency-row.js';
import { figures, finiteOrNull, type ResidencyState, slots } from './residency-state.js';

/** Length of a row in ms. */
export const rowMs = residencyRowS * 1000;
/** Mutable copy of the state while a block is folded. */
export interface Ledger {
  rowStartMs: number | null;
  readonly row: Float64Array;
  rowFuelL: number;
  rowMaxTempC: number;
  readonly total: Float64Array;
  totalFuelL: number;
  totalMaxTempC: number;
  readonly histogramMs: Float64Array;
  readonly sourceMs: Float64Array;
  loadKnownMs: number;
  readonly rows: ResidencyRow[];
}

/** Makes the row that holds a time the current one; returns its end. */
export function turnTo(ledger: Ledger, atMs: number): number {
  const startMs = ledger.rowStartMs as number;
  if (atMs < startMs + rowMs) return startMs + rowMs;
  ledger.rows.push(currentRow(ledger));
  settle(ledger);
  ledger.rowStartMs = Math.floor(atMs / rowMs) * rowMs;
  return ledger.rowStartMs + rowMs;
}

/** Moves the current row into the totals. */
function settle(ledger: Ledger): void {
  for (let k = 0; k < slots; k++) ledger.total[k] = (ledger.total[k] as number) + (ledger.row[k] as number);
  ledger.totalFuelL += ledger.rowFuelL;
  ledger.totalMaxTempC = Math.max(ledger.totalMaxTempC, ledger.rowMaxTempC);
  ledger.row.fill(0);
  ledger.rowFuelL = 0;
  ledger.rowMaxTempC = Number.NEGATIVE_INFINITY;
}

/** Opens the accounts for a block. */
export function openLedger(state: ResidencyState, firstMs: number): Ledger {
  return {
    rowStartMs: state.rowStartMs ?? Math.floor(firstMs / rowMs) * rowMs,
    row: Float64Array.from(state.row),
    rowFuelL: state.rowFuelL,
    rowMaxTempC: state.rowMaxTempC ?? Number.NEGATIVE_INFINITY,
    total: Float64Array.from(state.total),
    totalFuelL: state.totalFuelL,
    totalMaxTempC: state.totalMaxTempC ?? Number.NEGATIVE_INFINITY,
    histogramMs: Float64Array.from(state.histogramMs),
    sourceMs: Float64Array.from(state.sourceMs),
    loadKnownMs: state.loadKnownMs,
    rows: [],
  };
}

/** What is left of the accounts after a block. */
export function closeLedger(ledger: Ledger, state: ResidencyState, block: ObservedBlock): ResidencyState {
  return {
    rowStartMs: ledger.rowStartMs,
    row: [...ledger.row],
    rowFuelL: ledger.rowFuelL,
    rowMaxTempC: finiteOrNull(ledger.rowMaxTempC),
    total: [...ledger.total],
    totalFuelL: ledger.totalFuelL,
    totalMaxTempC: finiteOrNull(ledger.totalMaxTempC),
    histogramMs: [...ledger.histogramMs],
    sourceMs: [...ledger.sourceMs],
    loadKnownMs: ledger.loadKnownMs,
    fromMs: state.fromMs ?? (block.timeMs[0] as number),
    toMs: block.timeMs[block.timeMs.length - 1] as number,
  };
}

/** The current row as it stands. */
export function currentRow(ledger: Ledger): ResidencyRow {
  const startedMs = ledger.rowStartMs as number;
  return { startedMs, ...figures(ledger.row, ledger.rowFuelL, finiteOrNull(ledger.rowMaxTempC)) };
}
