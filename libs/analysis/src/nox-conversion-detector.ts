/** NOx conversion by exhaust temperature: a catalyst that loses ground against itself. */

import { leastNoxForConversionPpm } from '@warmbrick/aftertreatment';
import type { DetectorConfig, DetectorEvent } from './detector.js';
import { inSeconds, rounded } from './figures.js';
import { firstAtOrAfter } from './minute-marks.js';
import { firstRunningMode, type ObservedBlock } from './observed-block.js';
import { repeatOpen } from './repeat-open.js';

/** Bins of exhaust temperature. Source: engineering judgement; conversion changes most below 300 degC. */
const noxBins = { lowC: 150, widthK: 50, count: 8 } as const;

/**
 * Shapes: each list has an entry a bin, bin k from 150 + 50 k up to 200 + 50 k degC. Times in epoch ms, 0 for none.
 *
 * `inSum` and `outSum` are ppm times ms in twentieths of a ppm (whole numbers, so that sums are exact), `heldMs` the time of
 * the batch that goes on and `fromMs` its first sample; `lastRatio` and `baselineRatio` conversions 0..1 of the last batch
 * and of the machine's own past, `batches` how many made the latter, `spreadRatio` how far batches are off it in the mean;
 * `lowBatches` in a row under it since `lowFromMs`, the last by `lowRatio`; `isOpen` 1 while that is a finding.
 */
export interface NoxConversionState {
  /** NOx counts from here: bricks and sensors need some minutes after a start. */
  readonly usableFromMs: number;
  readonly inSum: readonly number[];
  readonly outSum: readonly number[];
  readonly heldMs: readonly number[];
  readonly fromMs: readonly number[];
  readonly lastRatio: readonly number[];
  readonly baselineRatio: readonly number[];
  readonly batches: readonly number[];
  readonly spreadRatio: readonly number[];
  readonly lowRatio: readonly number[];
  readonly lowBatches: readonly number[];
  readonly lowFromMs: readonly number[];
  readonly isOpen: readonly number[];
}

type Work = {
  -readonly [K in keyof NoxConversionState]: NoxConversionState[K] extends readonly number[] ? number[] : number;
} & {
  readonly events: DetectorEvent[];
  readonly config: DetectorConfig;
};

/** What a summary shows of one bin. Missing: null. */
export interface NoxBin {
  readonly lowC: number;
  readonly highC: number;
  readonly conversionRatio: number | null;
  readonly baselineRatio: number | null;
}

/** Ppm are counted in twentieths, the step of the channel. Source: SPN 3216. */
const countsPerPpm = 20;
/** Below this the sensor behind is not working, ppm. Source: engineering judgement. */
const leastOutPpm = -20;
/** Batches that make a baseline before anything is compared with it, and after which older ones fade. Source: judgement. */
const leastBatches = 6;
const rememberedBatches = 40;
/** Batches in a row that have to be low. Source: engineering judgement. */
const lowBatchesWanted = 3;
/** Mean deviations of a bin's own batches that a drop has to pass. Source: engineering judgement, about three standard deviations. */
const spreads = 4;
/** Share of its baseline that a bin may not lose however much it varies. Source: engineering judgement. */
const lostRatio = 0.6;
/** Above the release the dosing is still held back for so many kelvin. Source: full dosing from 250 degC, from memory. */
const releaseMarginK = 20;

const zeros = (): number[] => Array.from({ length: noxBins.count }, () => 0);

/** The conversion of each bin as it stands. */
export function noxBinsOf(state: NoxConversionState): NoxBin[] {
  return state.lastRatio.map((last, k) => ({
    lowC: noxBins.lowC + k * noxBins.widthK,
    highC: noxBins.lowC + (k + 1) * noxBins.widthK,
    conversionRatio: (state.batches[k] as number) > 0 ? last : null,
    baselineRatio: (state.batches[k] as number) >= leastBatches ? (state.baselineRatio[k] as number) : null,
  }));
}

/**
 * Compares the conversion in each bin of exhaust temperature with the machine's own past.
 *
 * Counted are samples while the engine runs, `noxWarmS` after its start, 20 K above the dosing release, with 100 ppm coming in at
 * least. A batch of
 * `noxBatchS` gives a conversion; three in a row `noxDropRatio` under the baseline, and beyond four times what its batches vary,
 * are a finding, until one is within half of that or `noxClearRatio`; the baseline rests meanwhile. A drop that went away by
 * itself counts as variation from then on.
 * Missing: without both NOx signals and an exhaust temperature there is no batch.
 * Caution: a sensor behind the catalyst takes slipping ammonia for NOx. Source: engineering judgement; 1 - out / in.
 */
export const noxConversionDetector = repeatOpen<NoxConversionState>({
  name: 'nox-conversion',
  initial: () => ({
    usableFromMs: 0,
    inSum: zeros(),
    outSum: zeros(),
    heldMs: zeros(),
    fromMs: zeros(),
    lastRatio: zeros(),
    baselineRatio: zeros(),
    batches: zeros(),
    spreadRatio: zeros(),
    lowRatio: zeros(),
    lowBatches: zeros(),
    lowFromMs: zeros(),
    isOpen: zeros(),
  }),
  step: (config, state, block) => {
    const { noxInPpm, noxOutPpm } = block.further;
    const lastStart = block.starts[block.starts.length - 1];
    if (noxInPpm === undefined || noxOutPpm === undefined) {
      if (lastStart === undefined) return { state, events: [] };
      return { state: { ...state, usableFromMs: usableFrom(config, lastStart.atMs) }, events: [] };
    }
    const work = opened(config, state);
    fold(work, block, { noxInPpm, noxOutPpm });
    const { events, config: _config, ...rest } = work;
    return { state: rest, events };
  },
  open: (config, state) => {
    const events: DetectorEvent[] = [];
    state.isOpen.forEach((isOpen, bin) => {
      if (isOpen === 1) events.push(conversionEvent(config, state, { bin, endedMs: null }));
    });
    return events;
  },
});

const usableFrom = (config: DetectorConfig, startedMs: number) => startedMs + config.thresholds.noxWarmS * 1000;

function opened(config: DetectorConfig, state: NoxConversionState): Work {
  return {
    usableFromMs: state.usableFromMs,
    inSum: [...state.inSum],
    outSum: [...state.outSum],
    heldMs: [...state.heldMs],
    fromMs: [...state.fromMs],
    lastRatio: [...state.lastRatio],
    baselineRatio: [...state.baselineRatio],
    batches: [...state.batches],
    spreadRatio: [...state.spreadRatio],
    lowRatio: [...state.lowRatio],
    lowBatches: [...state.lowBatches],
    lowFromMs: [...state.lowFromMs],
    isOpen: [...state.isOpen],
    events: [],
    config,
  };
}

interface NoxColumns {
  readonly noxInPpm: Float32Array;
  readonly noxOutPpm: Float32Array;
}

function fold(work: Work, block: ObservedBlock, columns: NoxColumns): void {
  const { mode, spanStart, starts, timeMs } = block;
  let nextStart = 0;
  const begin = (upTo: number): void => {
    for (; nextStart < starts.length && (starts[nextStart]?.index as number) <= upTo; nextStart++) {
      work.usableFromMs = usableFrom(work.config, starts[nextStart]?.atMs as number);
    }
  };
  for (let k = 0; k < block.spanCount; k++) {
    const from = spanStart[k] as number;
    const to = spanStart[k + 1] as number;
    begin(from);
    if ((mode[from] as number) < firstRunningMode) continue;
    const isUsable = (timeMs[from] as number) >= work.usableFromMs;
    const usable = isUsable ? from : firstAtOrAfter(timeMs, { from, to }, work.usableFromMs);
    if (usable < to) gather(work, block, { from: usable, to, ...columns });
  }
  begin(block.count);
}

/** The hot loop: the sums of one bin in locals, put back when another comes. */
function gather(work: Work, block: ObservedBlock, range: { from: number; to: number } & NoxColumns): void {
  const { heldMs, exhaustTempC, timeMs } = block;
  const { noxInPpm, noxOutPpm, to } = range;
  const { lowC, widthK, count } = noxBins;
  const highC = lowC + widthK * count;
  const binPerK = 1 / widthK;
  const leastC = Math.max(lowC, work.config.profile.dosingReleaseTempC + releaseMarginK);
  const batchMs = work.config.thresholds.noxBatchS * 1000;
  let bin = -1;
  let inSum = 0;
  let outSum = 0;
  let sumMs = 0;
  for (let i = range.from; i < to; i++) {
    const inPpm = noxInPpm[i] as number;
    const outPpm = noxOutPpm[i] as number;
    const tempC = exhaustTempC[i] as number;
    if (!(inPpm >= leastNoxForConversionPpm && outPpm >= leastOutPpm && tempC >= leastC && tempC < highC)) continue;
    const here = ((tempC - lowC) * binPerK) | 0;
    if (here !== bin) {
      if (bin >= 0) putBack(work, bin, { inSum, outSum, sumMs });
      bin = here;
      inSum = work.inSum[bin] as number;
      outSum = work.outSum[bin] as number;
      sumMs = work.heldMs[bin] as number;
    }
    const held = heldMs[i] as number;
    if (sumMs === 0) work.fromMs[bin] = timeMs[i] as number;
    inSum += ((inPpm * countsPerPpm + 0.5) | 0) * held;
    if (outPpm > 0) outSum += ((outPpm * countsPerPpm + 0.5) | 0) * held;
    sumMs += held;
    if (sumMs < batchMs) continue;
    putBack(work, bin, { inSum, outSum, sumMs });
    closeBatch(work, bin, (timeMs[i] as number) + held);
    bin = -1;
  }
  if (bin >= 0) putBack(work, bin, { inSum, outSum, sumMs });
}

function putBack(work: Work, bin: number, sums: { inSum: number; outSum: number; sumMs: number }): void {
  work.inSum[bin] = sums.inSum;
  work.outSum[bin] = sums.outSum;
  work.heldMs[bin] = sums.sumMs;
}

function closeBatch(work: Work, bin: number, atMs: number): void {
  const ratio = rounded(1 - (work.outSum[bin] as number) / (work.inSum[bin] as number), 4);
  const startedMs = work.fromMs[bin] as number;
  work.inSum[bin] = 0;
  work.outSum[bin] = 0;
  work.heldMs[bin] = 0;
  work.fromMs[bin] = 0;
  work.lastRatio[bin] = ratio;
  const { noxDropRatio, noxClearRatio } = work.config.thresholds;
  const below = (work.baselineRatio[bin] as number) - ratio;
  const most = Math.max(noxDropRatio, lostRatio * (work.baselineRatio[bin] as number));
  const limit = Math.min(most, Math.max(noxDropRatio, spreads * (work.spreadRatio[bin] as number)));
  if (work.isOpen[bin] === 1) {
    if (below > Math.max(noxClearRatio, limit / 2)) return;
    work.events.push(conversionEvent(work.config, work, { bin, endedMs: atMs }));
    work.isOpen[bin] = 0;
    learn(work, bin, ratio);
    return;
  }
  const isComparable = (work.batches[bin] as number) >= leastBatches;
  if (!isComparable || below < limit) {
    learn(work, bin, ratio);
    return;
  }
  if (work.lowBatches[bin] === 0) work.lowFromMs[bin] = startedMs;
  work.lowBatches[bin] = (work.lowBatches[bin] as number) + 1;
  work.lowRatio[bin] = rounded(below, 4);
  if ((work.lowBatches[bin] as number) >= lowBatchesWanted) work.isOpen[bin] = 1;
}

function learn(work: Work, bin: number, ratio: number): void {
  if ((work.lowBatches[bin] as number) > 0) vary(work, bin, work.lowRatio[bin] as number);
  work.lowBatches[bin] = 0;
  work.lowFromMs[bin] = 0;
  const batches = Math.min(rememberedBatches, (work.batches[bin] as number) + 1);
  const before = work.baselineRatio[bin] as number;
  work.batches[bin] = batches;
  if (batches > 1) vary(work, bin, Math.abs(ratio - before));
  work.baselineRatio[bin] = rounded(before + (ratio - before) / batches, 5);
}

function vary(work: Work, bin: number, offRatio: number): void {
  const before = work.spreadRatio[bin] as number;
  work.spreadRatio[bin] = rounded(before + (offRatio - before) / Math.max(1, (work.batches[bin] as number) - 1), 5);
}

function conversionEvent(
  config: DetectorConfig,
  work: NoxConversionState | Work,
  at: { bin: number; endedMs: number | null },
): DetectorEvent {
  const { bin, endedMs } = at;
  const { noxDropRatio, noxBatchS } = config.thresholds;
  const baseline = work.baselineRatio[bin] as number;
  const ratio = work.lastRatio[bin] as number;
  const dropRatio = baseline - ratio;
  return {
    kind: 'nox-conversion',
    startedMs: work.lowFromMs[bin] as number,
    endedMs,
    severity: endedMs === null && dropRatio >= 2 * noxDropRatio ? 'warning' : 'notice',
    values: {
      conversionPct: rounded(100 * ratio, 1),
      baselinePct: rounded(100 * baseline, 1),
      dropPct: rounded(100 * dropRatio, 1),
      binLowC: noxBins.lowC + bin * noxBins.widthK,
      binHighC: noxBins.lowC + (bin + 1) * noxBins.widthK,
    },
    evidence: {
      baselineBatches: work.batches[bin] as number,
      lowBatches: work.lowBatches[bin] as number,
      batchS: inSeconds(noxBatchS * 1000),
      variesPct: rounded(100 * (work.spreadRatio[bin] as number), 1),
      limitPct: rounded(100 * noxDropRatio, 1),
    },
  };
}
