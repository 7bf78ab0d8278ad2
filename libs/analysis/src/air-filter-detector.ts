/** Air filter: its restriction, brought to rated flow, against the limit. */

import { exhaustFlowFromFuelKgPerH } from '@warmbrick/aftertreatment';
import type { MachineProfile } from '@warmbrick/signals';
import type { DetectorConfig, DetectorEvent } from './detector.js';
import { inSeconds, rounded, roundedOrNull } from './figures.js';
import { modeCode, type ObservedBlock } from './observed-block.js';
import { repeatOpen } from './repeat-open.js';

export interface AirFilterState {
  /** The batch that goes on: pressure drop times ms, squared flow share times ms, time, first sample. */
  readonly dropSum: number;
  readonly squareSum: number;
  readonly heldMs: number;
  readonly fromMs: number;
  /** Batches since the filter was last found changed, the smoothed restriction, that of the first batches, and time at flow. */
  readonly batches: number;
  readonly nowKPa: number;
  readonly firstKPa: number;
  readonly flowMs: number;
  /** Batches in a row far below. */
  readonly lowBatches: number;
  readonly isSudden: boolean;
  readonly ambientTempC: number | null;
  /** A finding that goes on, 0 for none, and whether it is over the limit. */
  readonly sinceMs: number;
  readonly isOver: boolean;
}

type Work = { -readonly [K in keyof AirFilterState]: AirFilterState[K] } & {
  readonly events: DetectorEvent[];
  readonly config: DetectorConfig;
};

const nothing: AirFilterState = {
  dropSum: 0,
  squareSum: 0,
  heldMs: 0,
  fromMs: 0,
  batches: 0,
  nowKPa: 0,
  firstKPa: 0,
  flowMs: 0,
  lowBatches: 0,
  isSudden: false,
  ambientTempC: null,
  sinceMs: 0,
  isOver: false,
};

/** Fuel at rated power, kg/kWh, and density, kg/L. Source: domain notes 4.2; usual value. */
const ratedFuelKgPerKWh = 0.215;
const fuelKgPerL = 0.835;
/** Share of a new batch in the smoothed restriction. Source: engineering judgement. */
const smoothing = 0.3;
/** Batches from which there is a finding, and of which the first value is made. Source: engineering judgement. */
const leastBatches = 3;
/** A rise within one batch that dust does not make, kPa; a fall that only a change of filter makes. Source: judgement. */
const suddenKPa = 1.5;
const changedKPa = 1;
/** Hours at flow from which a trend is told. Source: engineering judgement. */
const trendHours = 20;
const hourMs = 3_600_000;

/** Exhaust for each kg of fuel at each whole percent of load. */
const gasPerFuel = Float64Array.from({ length: 101 }, (_, loadPct) => exhaustFlowFromFuelKgPerH(1, loadPct / 100));

/**
 * Exhaust flow of an engine at rated power, kg/h.
 *
 * Source: own arithmetic, 215 g fuel a kWh and 24 kg of gas for each; a 120 kW tractor measured 639 kg/h near full load.
 */
export function ratedExhaustFlowKgPerH(profile: MachineProfile): number {
  return exhaustFlowFromFuelKgPerH(profile.ratedPowerKW * ratedFuelKgPerKWh, 1);
}

/**
 * Follows the restriction of the air filter.
 *
 * Read only while working at `airFilterFlowRatio` of rated flow or more (by exhaust flow, else by fuel and load); drop and flow
 * of `airFilterBatchS` make one value at rated flow by least squares. A finding from `airFilterNoticeKPa`, a warning from
 * `airFilterLimitKPa`, cleared under `airFilterClearKPa` or by a changed filter.
 * Missing: without the pressure drop, or without any flow to be told, nothing is said. Caution: snow and rain read high;
 * a sudden rise is marked. Source: limit of US Army TM 5-3820-256-24-5; drop goes with the square of the flow.
 */
export const airFilterDetector = repeatOpen<AirFilterState>({
  name: 'air-filter',
  initial: () => nothing,
  step: (config, state, block) => {
    const drops = block.further.airFilterDeltaPressureKPa;
    if (drops === undefined) return { state, events: [] };
    const work: Work = { ...state, events: [], config };
    for (let k = 0; k < block.spanCount; k++) {
      const from = block.spanStart[k] as number;
      if (block.mode[from] === modeCode.working) {
        gather(work, block, { from, to: block.spanStart[k + 1] as number, drops });
      }
    }
    const { events, config: _config, ...rest } = work;
    return { state: rest, events };
  },
  open: (config, state) => (state.sinceMs === 0 ? [] : [filterEvent(config, state, null)]),
});

/** The hot loop: drop against squared flow, at high flow only. */
function gather(work: Work, block: ObservedBlock, range: { from: number; to: number; drops: Float32Array }): void {
  const { heldMs, timeMs, fuelRateLPerH, engineLoadPct } = block;
  const flows = block.further.exhaustFlowKgPerH;
  const { drops, to } = range;
  const { airFilterFlowRatio, airFilterBatchS } = work.config.thresholds;
  const perRated = 1 / ratedExhaustFlowKgPerH(work.config.profile);
  const batchMs = airFilterBatchS * 1000;
  // Number() tells the compiler that these are numbers and nothing else: without it each sum is boxed at each sample.
  let dropSum = Number(work.dropSum);
  let squareSum = Number(work.squareSum);
  let sumMs = Number(work.heldMs);
  for (let i = range.from; i < to; i++) {
    const drop = drops[i] as number;
    if (drop !== drop) continue;
    let flow = flows === undefined ? Number.NaN : (flows[i] as number);
    if (flow !== flow) {
      const load = engineLoadPct[i] as number;
      if (load === load) {
        flow = (fuelRateLPerH[i] as number) * fuelKgPerL * (gasPerFuel[Math.min(100, load | 0)] as number);
      }
    }
    const share = flow * perRated;
    if (!(share >= airFilterFlowRatio)) continue;
    const held = heldMs[i] as number;
    const square = share * share;
    if (sumMs === 0) work.fromMs = timeMs[i] as number;
    dropSum += drop * square * held;
    squareSum += square * square * held;
    sumMs += held;
    if (sumMs < batchMs) continue;
    const ambientC = block.ambientTempC[i] as number;
    if (ambientC === ambientC) work.ambientTempC = ambientC;
    closeBatch(work, { dropSum, squareSum, sumMs, atMs: (timeMs[i] as number) + held });
    dropSum = 0;
    squareSum = 0;
    sumMs = 0;
  }
  work.dropSum = dropSum;
  work.squareSum = squareSum;
  work.heldMs = sumMs;
}

interface Batch {
  readonly dropSum: number;
  readonly squareSum: number;
  readonly sumMs: number;
  readonly atMs: number;
}

function closeBatch(work: Work, batch: Batch): void {
  const kPa = rounded(batch.dropSum / batch.squareSum, 4);
  work.flowMs += batch.sumMs;
  const { fromMs } = work;
  const { atMs } = batch;
  if (work.batches >= leastBatches && kPa < work.nowKPa - changedKPa) {
    work.lowBatches++;
    if (work.lowBatches >= 2) changed(work, kPa, atMs);
    return;
  }
  work.lowBatches = 0;
  if (work.batches >= leastBatches && kPa > work.nowKPa + suddenKPa) work.isSudden = true;
  work.batches++;
  work.nowKPa = rounded(work.nowKPa + (kPa - work.nowKPa) * Math.max(smoothing, 1 / work.batches), 4);
  if (work.batches <= leastBatches) work.firstKPa = work.nowKPa;
  if (work.batches >= leastBatches) judge(work, { fromMs, atMs });
}

/** Well below what it was, twice: snow that melted, or another filter. */
function changed(work: Work, kPa: number, atMs: number): void {
  work.nowKPa = kPa;
  if (work.sinceMs !== 0) end(work, atMs);
  Object.assign(work, { batches: 1, firstKPa: kPa, flowMs: 0, lowBatches: 0, isSudden: false });
}

function judge(work: Work, at: { fromMs: number; atMs: number }): void {
  const { airFilterNoticeKPa, airFilterLimitKPa, airFilterClearKPa } = work.config.thresholds;
  if (work.sinceMs === 0) {
    if (work.nowKPa < airFilterNoticeKPa) return;
    work.sinceMs = at.fromMs;
    work.isOver = work.nowKPa >= airFilterLimitKPa;
  } else if (work.nowKPa < airFilterClearKPa) {
    end(work, at.atMs);
    work.isSudden = false;
  } else if (!work.isOver && work.nowKPa >= airFilterLimitKPa) {
    work.isOver = true;
  }
}

function end(work: Work, atMs: number): void {
  work.events.push(filterEvent(work.config, work, atMs));
  work.sinceMs = 0;
  work.isOver = false;
}

function filterEvent(config: DetectorConfig, work: AirFilterState | Work, endedMs: number | null): DetectorEvent {
  const { airFilterLimitKPa, airFilterNoticeKPa, airFilterFlowRatio } = config.thresholds;
  const hours = work.flowMs / hourMs;
  const gained = work.nowKPa - work.firstKPa;
  return {
    kind: 'air-filter',
    startedMs: work.sinceMs,
    endedMs,
    // What comes at once is rather snow, rain or leaves than dust.
    severity: work.isOver && !work.isSudden ? 'warning' : 'notice',
    values: {
      restrictionKPa: rounded(work.nowKPa, 2),
      limitKPa: airFilterLimitKPa,
      trendKPaPer100H: hours >= trendHours ? rounded((100 * gained) / hours, 2) : null,
    },
    evidence: {
      noticeKPa: airFilterNoticeKPa,
      flowS: inSeconds(work.flowMs),
      flowRatio: airFilterFlowRatio,
      suddenRise: work.isSudden,
      ambientTempC: roundedOrNull(work.ambientTempC, 0),
    },
  };
}
