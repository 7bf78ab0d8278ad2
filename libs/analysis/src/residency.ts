/** Residency: where the time went, by quarter hour and in total. */

import type { DetectorConfig } from './detector.js';
import { firstAtOrAfter } from './minute-marks.js';
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
  const { count, timeMs, heldMs } = block;
  let span = 0;
  for (let from = 0; from < count; ) {
    const rowEndMs = turnTo(ledger, timeMs[from] as number);
    const to = firstAtOrAfter(timeMs, { from, to: count }, rowEndMs);
    const last = to - 1;
    const isCut = (timeMs[last] as number) + (heldMs[last] as number) > rowEndMs;
    const whole = { from, to: isCut ? last : to };
    addTemperatures(config, ledger, block, whole);
    span = addModes(ledger, block, { ...whole, span });
    if (isCut) {
      addCut(config, ledger, block, last);
      addRest(ledger, block, last);
    }
    from = to;
  }
  const next = closeLedger(ledger, state, block);
  ledger.rows.push(currentRow(ledger));
  return { state: next, rows: ledger.rows };
}

/** Stretches `from` up to `to`. */
interface Piece {
  readonly from: number;
  readonly to: number;
}

/**
 * Adds the modes of whole stretches that begin in the current row, and the rests after them; the last one may turn to a
 * later row. `span` is the one that the piece begins in, the result the one that it ends in.
 */
function addModes(ledger: Ledger, block: ObservedBlock, piece: Piece & { readonly span: number }): number {
  const { mode, spanStart, spanCount } = block;
  let { span } = piece;
  for (let from = piece.from; from < piece.to; ) {
    while (span + 1 < spanCount && (spanStart[span + 1] as number) <= from) span++;
    const spanEnd = spanStart[span + 1] as number;
    const to = Math.min(piece.to, spanEnd);
    addMode(ledger.row, mode[from] as number, spanHeldMs(block, from, to));
    addRest(ledger, block, to - 1);
    from = to;
  }
  return span;
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

/** Adds what whole stretches of running within the current row tell beside their mode. */
function addTemperatures(config: DetectorConfig, ledger: Ledger, block: ObservedBlock, { from, to }: Piece): void {
  const { mode, heldMs, exhaustTempC, exhaustSource, fuelRateLPerH, engineLoadPct } = block;
  const { row, histogramMs, sourceMs } = ledger;
  const { lowC, highC } = config.window;
  const releaseC = config.profile.dosingReleaseTempC;
  for (let i = from; i < to; i++) {
    if ((mode[i] as number) < firstRunningMode) continue;
    const held = heldMs[i] as number;
    const tempC = exhaustTempC[i] as number;
    let at: number = slot.noTemperature;
    if (tempC === tempC) {
      at = tempC < lowC ? slot.below : tempC <= highC ? slot.inside : slot.above;
      if (tempC < releaseC) row[slot.belowRelease] = (row[slot.belowRelease] as number) + held;
      if (tempC > ledger.rowMaxTempC) ledger.rowMaxTempC = tempC;
      const bin = binOf(tempC);
      histogramMs[bin] = (histogramMs[bin] as number) + held;
      const source = exhaustSource[i] as number;
      sourceMs[source] = (sourceMs[source] as number) + held;
    }
    row[at] = (row[at] as number) + held;
    const rate = fuelRateLPerH[i] as number;
    if (rate === rate) ledger.rowFuelL += (rate * held) / 3_600_000;
    const load = engineLoadPct[i] as number;
    if (load === load) ledger.loadKnownMs += held;
  }
}

function binOf(tempC: number): number {
  return tempC > 0 ? Math.min(histogramBins - 1, (tempC / histogramBinC) | 0) : 0;
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
  const bin = binOf(tempC);
  ledger.histogramMs[bin] = (ledger.histogramMs[bin] as number) + partMs;
  const source = block.exhaustSource[i] as number;
  ledger.sourceMs[source] = (ledger.sourceMs[source] as number) + partMs;
}

/** Adds what is left until the next sample, if anything. */
function addRest(ledger: Ledger, block: ObservedBlock, i: number): void {
  if ((block.restMs[i] as number) === 0) return;
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
