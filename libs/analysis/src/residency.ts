/** Residency: where the time went, by quarter hour and in total. */

import type { DetectorConfig } from './detector.js';
import { firstRunningMode, modeCode, type ObservedBlock, spanHeldMs } from './observed-block.js';
import { closeLedger, currentRow, type Ledger, openLedger, rowMs, turnTo } from './residency-ledger.js';
import { histogramBinC, histogramBins, type ResidencyRow } from './residency-row.js';
import { type ResidencyState, slot, slotOfMode } from './residency-state.js';

/** A stretch longer than this fills only its first and last row; the rows between are left out. */
const filledRestMs = 48 * 3_600_000;

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
  const ledger = openLedger(state, block.timeMs[0] as number);
  for (let k = 0; k < block.spanCount; k++) {
    const to = block.spanStart[k + 1] as number;
    addSpan(config, ledger, block, { from: block.spanStart[k] as number, to });
    if ((block.restMs[to - 1] as number) > 0) addRest(ledger, block, to - 1);
  }
  const next = closeLedger(ledger, state, block);
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
