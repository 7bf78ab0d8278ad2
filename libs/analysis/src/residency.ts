/** Residency: where the time went, by quarter hour and in total. */

import { exhaustSourceOrder } from '@warmbrick/signals';
import type { DetectorConfig } from './detector.js';
import { inSeconds, rounded } from './figures.js';
import { firstRunningMode, modeCode, type ObservedBlock, spanHeldMs } from './observed-block.js';
import { histogramBinC, histogramBins, type ResidencyRow, residencyRowS } from './residency-row.js';
import type { ResidencyTotals } from './summary.js';

/** Positions in an account: milliseconds each, so that sums are exact whatever their order. */
const slot = {
  idle: 0,
  coolingDown: 1,
  light: 2,
  working: 3,
  below: 4,
  inside: 5,
  above: 6,
  belowRelease: 7,
  noTemperature: 8,
  cranking: 9,
  off: 10,
  unobserved: 11,
} as const;
const slots = 12;
/** Slot of each mode code. */
const slotOfMode = [slot.unobserved, slot.off, slot.cranking, slot.idle, slot.idle, slot.light, slot.working] as const;

export interface ResidencyState {
  readonly rowStartMs: number | null;
  readonly row: readonly number[];
  readonly rowFuelL: number;
  readonly rowMaxTempC: number | null;
  readonly total: readonly number[];
  readonly totalFuelL: number;
  readonly totalMaxTempC: number | null;
  readonly histogramMs: readonly number[];
  readonly sourceMs: readonly number[];
  readonly loadKnownMs: number;
  readonly fromMs: number | null;
  readonly toMs: number;
}

export const initialResidency: ResidencyState = {
  rowStartMs: null,
  row: new Array<number>(slots).fill(0),
  rowFuelL: 0,
  rowMaxTempC: null,
  total: new Array<number>(slots).fill(0),
  totalFuelL: 0,
  totalMaxTempC: null,
  histogramMs: new Array<number>(histogramBins).fill(0),
  sourceMs: new Array<number>(exhaustSourceOrder.length).fill(0),
  loadKnownMs: 0,
  fromMs: null,
  toMs: 0,
};

const rowMs = residencyRowS * 1000;
/** A stretch longer than this fills only its first and last row; the rows between are left out. */
const filledRestMs = 48 * 3_600_000;

/** Mutable copy of the state while a block is folded. */
interface Ledger {
  rowStartMs: number | null;
  row: Float64Array;
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

/**
 * Adds a block's stretches to the accounts.
 *
 * Returns every row that changed, complete or not; a row seen again replaces the earlier one.
 */
export function foldResidency(
  config: DetectorConfig,
  state: ResidencyState,
  block: ObservedBlock,
): { state: ResidencyState; rows: ResidencyRow[] } {
  if (block.timeMs.length === 0) return { state, rows: [] };
  const ledger = open(state, block.timeMs[0] as number);
  for (let k = 0; k < block.spanCount; k++) {
    const to = block.spanStart[k + 1] as number;
    addSpan(config, ledger, block, { from: block.spanStart[k] as number, to });
    if ((block.restMs[to - 1] as number) > 0) addRest(ledger, block, to - 1);
  }
  const next = close(ledger, state, block);
  ledger.rows.push(currentRow(ledger));
  return { state: next, rows: ledger.rows };
}

interface Piece {
  readonly from: number;
  readonly to: number;
}

/** Adds a span of one mode, cut where rows end. */
function addSpan(config: DetectorConfig, ledger: Ledger, block: ObservedBlock, span: Piece): void {
  const { timeMs, heldMs } = block;
  let from = span.from;
  while (from < span.to) {
    const rowEndMs = turnTo(ledger, timeMs[from] as number);
    let to = from;
    while (to < span.to && isWithin(timeMs[to] as number, heldMs[to] as number, rowEndMs)) to++;
    if (to > from) addPiece(config, ledger, block, { from, to });
    if (to < span.to && (timeMs[to] as number) < rowEndMs) {
      addCut(config, ledger, block, to);
      to++;
    }
    from = to;
  }
}

/** A stretch that holds nothing belongs to the row that its sample is in. */
function isWithin(atMs: number, heldMs: number, rowEndMs: number): boolean {
  return atMs < rowEndMs && atMs + heldMs <= rowEndMs;
}

/** Adds a stretch that reaches over the end of a row. */
function addCut(config: DetectorConfig, ledger: Ledger, block: ObservedBlock, i: number): void {
  let at = block.timeMs[i] as number;
  let left = block.heldMs[i] as number;
  while (left > 0) {
    const part = Math.min(left, turnTo(ledger, at) - at);
    addPart(config, ledger, block, { i, partMs: part });
    at += part;
    left -= part;
  }
}

/** Adds whole stretches of one mode that lie within the current row. */
function addPiece(config: DetectorConfig, ledger: Ledger, block: ObservedBlock, piece: Piece): void {
  const { mode, exhaustTempC, heldMs, fuelRateLPerH, engineLoadPct } = block;
  const code = mode[piece.from] as number;
  addMode(ledger.row, code, spanHeldMs(block, piece.from, piece.to));
  if (code < firstRunningMode) return;
  const { histogramMs } = ledger;
  const { lowC, highC } = config.window;
  const releaseC = config.profile.dosingReleaseTempC;
  let { rowFuelL, loadKnownMs, rowMaxTempC } = ledger;
  let below = 0;
  let inside = 0;
  let above = 0;
  let belowRelease = 0;
  let noTemperature = 0;
  for (let i = piece.from; i < piece.to; i++) {
    const held = heldMs[i] as number;
    const tempC = exhaustTempC[i] as number;
    if (tempC === tempC) {
      if (tempC < lowC) below += held;
      else if (tempC <= highC) inside += held;
      else above += held;
      if (tempC < releaseC) belowRelease += held;
      if (tempC > rowMaxTempC) rowMaxTempC = tempC;
      const bin = tempC > 0 ? Math.min(histogramBins - 1, (tempC / histogramBinC) | 0) : 0;
      histogramMs[bin] = (histogramMs[bin] as number) + held;
    } else {
      noTemperature += held;
    }
    const rate = fuelRateLPerH[i] as number;
    if (rate === rate) rowFuelL += (rate * held) / 3_600_000;
    const load = engineLoadPct[i] as number;
    if (load === load) loadKnownMs += held;
  }
  addSources(ledger, block, piece);
  Object.assign(ledger, { rowFuelL, loadKnownMs, rowMaxTempC });
  const row = ledger.row;
  row[slot.below] = (row[slot.below] as number) + below;
  row[slot.inside] = (row[slot.inside] as number) + inside;
  row[slot.above] = (row[slot.above] as number) + above;
  row[slot.belowRelease] = (row[slot.belowRelease] as number) + belowRelease;
  row[slot.noTemperature] = (row[slot.noTemperature] as number) + noTemperature;
}

function addSources(ledger: Ledger, block: ObservedBlock, piece: Piece): void {
  const { exhaustTempC, exhaustSource, heldMs } = block;
  const { sourceMs } = ledger;
  for (let i = piece.from; i < piece.to; i++) {
    const tempC = exhaustTempC[i] as number;
    const source = exhaustSource[i] as number;
    if (tempC === tempC) sourceMs[source] = (sourceMs[source] as number) + (heldMs[i] as number);
  }
}

/** Adds time of one mode. */
function addMode(row: Float64Array, code: number, lengthMs: number): void {
  const at = slotOfMode[code] as number;
  row[at] = (row[at] as number) + lengthMs;
  if (code === modeCode.coolingDown) row[slot.coolingDown] = (row[slot.coolingDown] as number) + lengthMs;
}

/** Adds a part of one stretch. */
function addPart(
  config: DetectorConfig,
  ledger: Ledger,
  block: ObservedBlock,
  part: { i: number; partMs: number },
): void {
  const { i, partMs } = part;
  const code = block.mode[i] as number;
  addMode(ledger.row, code, partMs);
  if (code < firstRunningMode) return;
  addTemperature(config, ledger, block, part);
  const rate = block.fuelRateLPerH[i] as number;
  if (rate === rate) ledger.rowFuelL += (rate * partMs) / 3_600_000;
  const load = block.engineLoadPct[i] as number;
  if (load === load) ledger.loadKnownMs += partMs;
}

function addTemperature(
  config: DetectorConfig,
  ledger: Ledger,
  block: ObservedBlock,
  part: { i: number; partMs: number },
): void {
  const { i, partMs } = part;
  const row = ledger.row;
  const tempC = block.exhaustTempC[i] as number;
  if (tempC !== tempC) {
    row[slot.noTemperature] = (row[slot.noTemperature] as number) + partMs;
    return;
  }
  const at = tempC < config.window.lowC ? slot.below : tempC <= config.window.highC ? slot.inside : slot.above;
  row[at] = (row[at] as number) + partMs;
  if (tempC < config.profile.dosingReleaseTempC) row[slot.belowRelease] = (row[slot.belowRelease] as number) + partMs;
  if (tempC > ledger.rowMaxTempC) ledger.rowMaxTempC = tempC;
  const bin = tempC > 0 ? Math.min(histogramBins - 1, (tempC / histogramBinC) | 0) : 0;
  ledger.histogramMs[bin] = (ledger.histogramMs[bin] as number) + partMs;
  const source = block.exhaustSource[i] as number;
  ledger.sourceMs[source] = (ledger.sourceMs[source] as number) + partMs;
}

function addRest(ledger: Ledger, block: ObservedBlock, i: number): void {
  let at = (block.timeMs[i] as number) + (block.heldMs[i] as number);
  const endMs = block.timeMs[i + 1] as number;
  const slotAt = block.restMode[i] === modeCode.off ? slot.off : slot.unobserved;
  const isLong = endMs - at > filledRestMs;
  while (at < endMs) {
    const rowEndMs = turnTo(ledger, at);
    const part = Math.min(endMs, rowEndMs) - at;
    ledger.row[slotAt] = (ledger.row[slotAt] as number) + part;
    at += part;
    if (isLong && at < endMs) at = skip(ledger, slotAt, at, endMs);
  }
}

/** Counts the inner rows of a very long stretch in the total alone. */
function skip(ledger: Ledger, slotAt: number, at: number, endMs: number): number {
  const lastRowMs = Math.floor(endMs / rowMs) * rowMs;
  if (lastRowMs <= at) return at;
  ledger.total[slotAt] = (ledger.total[slotAt] as number) + (lastRowMs - at);
  return lastRowMs;
}

/** Makes the row that holds a time the current one; returns its end. */
function turnTo(ledger: Ledger, atMs: number): number {
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
  ledger.row = new Float64Array(slots);
  ledger.rowFuelL = 0;
  ledger.rowMaxTempC = Number.NEGATIVE_INFINITY;
}

function open(state: ResidencyState, firstMs: number): Ledger {
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

function close(ledger: Ledger, state: ResidencyState, block: ObservedBlock): ResidencyState {
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

function currentRow(ledger: Ledger): ResidencyRow {
  const startedMs = ledger.rowStartMs as number;
  return { startedMs, ...figures(ledger.row, ledger.rowFuelL, finiteOrNull(ledger.rowMaxTempC)) };
}

/** Totals over everything observed, the current row included. */
export function residencyTotals(state: ResidencyState): ResidencyTotals {
  const sum = state.total.map((value, k) => value + (state.row[k] as number));
  const hottest = Math.max(
    state.totalMaxTempC ?? Number.NEGATIVE_INFINITY,
    state.rowMaxTempC ?? Number.NEGATIVE_INFINITY,
  );
  return figures(sum, state.totalFuelL + state.rowFuelL, finiteOrNull(hottest));
}

function figures(account: ArrayLike<number>, fuelL: number, maxTempC: number | null): ResidencyTotals {
  const s = (at: number) => inSeconds(account[at] as number);
  const runningMs =
    (account[slot.idle] as number) + (account[slot.light] as number) + (account[slot.working] as number);
  return {
    runningS: inSeconds(runningMs),
    idleS: s(slot.idle),
    coolingDownS: s(slot.coolingDown),
    lightS: s(slot.light),
    workingS: s(slot.working),
    belowS: s(slot.below),
    inS: s(slot.inside),
    aboveS: s(slot.above),
    belowReleaseS: s(slot.belowRelease),
    noTemperatureS: s(slot.noTemperature),
    crankingS: s(slot.cranking),
    offS: s(slot.off),
    unobservedS: s(slot.unobserved),
    maxExhaustTempC: maxTempC === null ? null : rounded(maxTempC, 1),
    fuelL: rounded(fuelL, 3),
  };
}

function finiteOrNull(value: number): number | null {
  return Number.isFinite(value) ? value : null;
}
