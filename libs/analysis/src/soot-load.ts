/** Soot in the particulate filter: a lumped model, fused with the machine's own soot signal and with its pressure drop. */

import { no2OfNoxRatio, no2SootCapGPerS, type SootConditions, stepSootLoadG } from '@warmbrick/aftertreatment';
import type { DetectorConfig } from './detector.js';
import { dutyKeep } from './duty.js';
import { firstRunningMode, type ObservedBlock } from './observed-block.js';
import {
  initialSootPressure,
  lookEveryMs,
  type PressureFilter,
  pressureGain,
  pressureState,
  pressureWork,
  type SootPressureState,
  type SootPressureWork,
  sootByPressureG,
} from './soot-pressure.js';
import {
  capOfClass,
  cellWidth,
  gainOf,
  highestNo2Class,
  hottestC,
  loadWidth,
  mostLoadPct,
  no2ClassPpm,
  o2Ratio,
  rowWidth,
  type SootTable,
  sootTable,
} from './soot-table.js';

export interface SootLoadState {
  readonly sootG: number;
  /** Variance of the load, g2; null before the engine ran. */
  readonly varianceG2: number | null;
  /** Running time since the soot signal was last taken in. */
  readonly sinceFusedMs: number;
  /** Times that it was taken in. */
  readonly fused: number;
  /** Of late: soot caught, and share of a full filter that burns a second; null before any was reckoned. */
  readonly madeGPerS: number | null;
  readonly burnPerS: number | null;
  /** Running time since the NO2 last came from NOx and flow that were sent; null before the first time. */
  readonly sinceSensedMs: number | null;
  /** Running time since the pressure drop was last looked at. */
  readonly sinceLookMs: number;
  readonly pressure: SootPressureState;
}

/** Nothing is known of the load in the beginning: none, give or take 40 % of the limit. Source: engineering judgement. */
export function initialSootLoad(): SootLoadState {
  return {
    sootG: 0,
    varianceG2: null,
    sinceFusedMs: 0,
    fused: 0,
    madeGPerS: null,
    burnPerS: null,
    sinceSensedMs: null,
    sinceLookMs: 0,
    pressure: initialSootPressure,
  };
}

/** The machine's own soot signal, as a share of the limit. Source: engineering judgement. */
const signalDeviation = 0.1;
/** Growth of the model's own doubt: a fifth of the limit in ten hours. Source: engineering judgement. */
const doubtRatio = 0.2;
const doubtS = 36_000;
/**
 * What is made and what burns are known to a third or a half, so that a load by the model alone is good to 35 % of itself
 * in the cold and to 50 % at balance: twice the square of 0.35 for what is turned over. Source: engineering judgement; engine-out
 * soot 0.05-0.15 g/kWh, burn-off within a factor of two (domain notes, 2.2 and 2.4).
 */
const rateDoubt = 0.25;
const priorDeviation = 0.4;
/** Least running time between two uses of the soot signal: readings closer together tell nothing new. */
const fuseEveryMs = 60_000;

/**
 * Moves the load over a block, exactly for conditions that hold over a stretch.
 *
 * dm/dt = caught soot - min(NO2 rate m, NO2 supply) - O2 rate m while the engine runs with a known temperature (filter inlet
 * where sent). NO2 comes from NOx and exhaust flow where both are sent, else both are reckoned from load and fuel. Below the
 * dosing release temperature nothing burns in the model, so that a cold idle never looks like a cure. A scalar filter joins
 * the soot signal (dpfSootPct) once a minute of running, and the pressure drop: see soot-pressure.ts.
 * Missing: without temperature soot is not reckoned at all and the load stands still; without fuel rate fuel follows load.
 * Source: domain notes, section 2.2; libs/aftertreatment.
 */
export function foldSootLoad(config: DetectorConfig, state: SootLoadState, block: ObservedBlock): SootLoadState {
  if (!config.profile.hasParticulateFilter) return state;
  const table = sootTable(config);
  const { mode, heldMs, exhaustTempC, engineLoadPct, fuelRateLPerH, further } = block;
  const { dpfInletTempC, dpfSootPct, exhaustFlowKgPerH, noxInPpm, dpfDeltaPressureKPa, activeRegenState } = further;
  const columns: Columns = {
    ...{ mode, heldMs, exhaustTempC, engineLoadPct, fuelRateLPerH, dpfInletTempC, dpfSootPct },
    ...{ exhaustFlowKgPerH, noxInPpm, dpfDeltaPressureKPa, activeRegenState },
  };
  const { limitG, litres, ratedFlowKgPerH } = table;
  const work: Work = {
    table,
    sootG: state.sootG,
    varianceG2: state.varianceG2 ?? (priorDeviation * limitG) ** 2,
    sinceFusedMs: state.sinceFusedMs,
    fused: state.fused,
    madeGPerS: state.madeGPerS ?? Number.NaN,
    burnPerS: state.burnPerS ?? Number.NaN,
    sinceSensedMs: state.sinceSensedMs ?? Number.NaN,
    sinceLookMs: state.sinceLookMs,
    pressure: pressureWork(state.pressure),
    filter: { limitG, litres, ratedFlowKgPerH, fullBurnOffMs: config.thresholds.regenFullS * 1000 },
  };
  foldStretches(work, columns, block.count);
  const isKnown = work.madeGPerS === work.madeGPerS;
  return {
    sootG: work.sootG,
    varianceG2: work.varianceG2,
    sinceFusedMs: work.sinceFusedMs,
    fused: work.fused,
    madeGPerS: isKnown ? work.madeGPerS : null,
    burnPerS: isKnown ? work.burnPerS : null,
    sinceSensedMs: Number.isNaN(work.sinceSensedMs) ? null : work.sinceSensedMs,
    sinceLookMs: work.sinceLookMs,
    pressure: pressureState(work.pressure),
  };
}

/** The running figures. Missing: NaN. Fields, not locals: see the README on loops. */
interface Work {
  readonly table: SootTable;
  sootG: number;
  varianceG2: number;
  sinceFusedMs: number;
  fused: number;
  madeGPerS: number;
  burnPerS: number;
  sinceSensedMs: number;
  sinceLookMs: number;
  readonly pressure: SootPressureWork;
  readonly filter: PressureFilter;
}

type Column = Float32Array | undefined;

interface Columns extends Pick<ObservedBlock, 'mode' | 'heldMs' | 'exhaustTempC' | 'engineLoadPct' | 'fuelRateLPerH'> {
  readonly dpfInletTempC: Column;
  readonly dpfSootPct: Column;
  readonly exhaustFlowKgPerH: Column;
  readonly noxInPpm: Column;
  readonly dpfDeltaPressureKPa: Column;
  readonly activeRegenState: Column;
}

const no2ClassPerNox = no2OfNoxRatio / no2ClassPpm;

// Own names for what is imported: the compiler folds a constant of this file into the loop, an imported one is read each time.
const lastDegreeC = hottestC;
const lastLoadPct = mostLoadPct;
const lastNo2Class = highestNo2Class;
const rowStep = rowWidth;
const cellStep = cellWidth;
const loadStep = loadWidth;
const runningFrom = firstRunningMode;
const lookAfterMs = lookEveryMs;
const capStep = capOfClass;

// One loop is what makes it fast; it stays in one piece.
// oxlint-disable-next-line max-lines-per-function
function foldStretches(work: Work, columns: Columns, count: number): void {
  const { mode, heldMs, exhaustTempC, engineLoadPct, fuelRateLPerH, dpfInletTempC, dpfSootPct } = columns;
  const { exhaustFlowKgPerH, noxInPpm } = columns;
  const { burning, byLoad, limitG } = work.table;
  const growthG2PerS = (doubtRatio * limitG) ** 2 / doubtS;
  const hasDrop = columns.dpfDeltaPressureKPa !== undefined && exhaustFlowKgPerH !== undefined;
  for (let i = 0; i < count; i++) {
    if ((mode[i] as number) < runningFrom) continue;
    const held = heldMs[i] as number;
    let tempC = dpfInletTempC === undefined ? Number.NaN : (dpfInletTempC[i] as number);
    if (tempC !== tempC) tempC = exhaustTempC[i] as number;
    if (tempC === tempC && held > 0) {
      const loadPct = engineLoadPct[i] as number;
      const load = loadPct > 0 ? Math.min(lastLoadPct, loadPct | 0) * loadStep : 0;
      const sent = fuelRateLPerH[i] as number;
      const fuel = sent === sent ? sent : (byLoad[load + 2] as number);
      const madeNow = (byLoad[load] as number) * fuel;
      const degree = tempC > 0 ? Math.min(lastDegreeC, (tempC + 0.5) | 0) : 0;
      let no2Class = (byLoad[load + 3] as number) | 0;
      let flow = exhaustFlowKgPerH === undefined ? Number.NaN : (exhaustFlowKgPerH[i] as number);
      if (flow !== flow) flow = (byLoad[load + 1] as number) * fuel;
      else if (noxInPpm !== undefined) {
        const nox = noxInPpm[i] as number;
        if (nox === nox) {
          no2Class = nox > 0 ? Math.min(lastNo2Class, (nox * no2ClassPerNox + 0.5) | 0) : 0;
          work.sinceSensedMs = 0;
        }
      }
      const row = degree * rowStep;
      const kinkG = (burning[row] as number) * flow;
      const capGPerS = capStep * no2Class * flow;
      const atNo2 = row + 1 + no2Class * cellStep;
      const burnNow = burning[atNo2] as number;
      const fromG = work.sootG;
      const isShort = fromG > kinkG && burnNow > 0;
      const at = isShort ? row + 1 : atNo2;
      const rate = burning[at] as number;
      let keep = burning[at + 1] as number;
      let gainS = burning[at + 2] as number;
      if (held !== 1000) {
        keep = Math.exp((-rate * held) / 1000);
        gainS = gainOf(rate, held / 1000);
      }
      const next = fromG * keep + (isShort ? madeNow - capGPerS : madeNow) * gainS;
      if (next > kinkG !== isShort && burnNow > 0) overKink(work, { made: madeNow, degree, no2Class, flow, held });
      else work.sootG = next;
      const turnoverG = madeNow * gainS + work.sootG * (1 - keep);
      work.varianceG2 =
        work.varianceG2 * keep * keep + (growthG2PerS * held) / 1000 + rateDoubt * turnoverG * work.sootG;
      const burnFull = limitG > kinkG && burnNow > 0 ? (burning[row + 1] as number) + capGPerS / limitG : burnNow;
      if (work.madeGPerS !== work.madeGPerS) {
        work.madeGPerS = madeNow;
        work.burnPerS = burnFull;
      }
      const dutyPart = dutyKeep(held);
      work.madeGPerS = madeNow + (work.madeGPerS - madeNow) * dutyPart;
      work.burnPerS = burnFull + (work.burnPerS - burnFull) * dutyPart;
    }
    work.sinceFusedMs += held;
    work.sinceSensedMs += held;
    if (dpfSootPct !== undefined && work.sinceFusedMs >= fuseEveryMs) {
      const signal = dpfSootPct[i] as number;
      if (signal === signal) {
        const gain = work.varianceG2 / (work.varianceG2 + (signalDeviation * limitG) ** 2);
        work.sootG += gain * ((signal / 100) * limitG - work.sootG);
        work.varianceG2 *= 1 - gain;
        work.sinceFusedMs = 0;
        work.fused++;
      }
    }
    if (hasDrop) {
      work.sinceLookMs += held;
      if (work.sinceLookMs >= lookAfterMs) lookAtPressure(work, columns, { i, tempC });
    }
  }
}

/** The rare stretch in which the load crosses the one at which the NO2 runs short. */
function overKink(
  work: Work,
  at: { made: number; degree: number; no2Class: number; flow: number; held: number },
): void {
  const no2Ratio = at.no2Class * no2ClassPpm * 1e-6;
  const no2CapGPerS = no2SootCapGPerS(at.flow, no2Ratio);
  const conditions: SootConditions = { sootInGPerS: at.made, tempC: at.degree, no2Ratio, o2Ratio, no2CapGPerS };
  work.sootG = stepSootLoadG(work.sootG, conditions, at.held / 1000);
}

function lookAtPressure(work: Work, columns: Columns, at: { i: number; tempC: number }): void {
  const { i, tempC } = at;
  const { limitG } = work.table;
  const sinceMs = work.sinceLookMs;
  work.sinceLookMs = 0;
  const measuredG = sootByPressureG(work.pressure, work.filter, {
    sinceMs,
    dropKPa: columns.dpfDeltaPressureKPa?.[i] ?? Number.NaN,
    exhaustKgPerH: columns.exhaustFlowKgPerH?.[i] ?? Number.NaN,
    tempC,
    activeRegenState: columns.activeRegenState?.[i] ?? Number.NaN,
  });
  if (measuredG !== measuredG) return;
  const { gain, varianceG2 } = pressureGain(work.varianceG2, limitG);
  if (gain === 0) return;
  work.sootG += gain * (measuredG - work.sootG);
  work.varianceG2 = varianceG2;
  work.pressure.sinceTakenMs = 0;
}
