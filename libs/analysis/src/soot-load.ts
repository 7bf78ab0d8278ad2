/** Soot in the particulate filter: a lumped model, fused with the machine's own soot signal where it sends one. */

import { caughtSootGPerS, idleFuelLPerH, sootRateByNo2PerS, sootRateByO2PerS } from '@warmbrick/aftertreatment';
import type { DetectorConfig } from './detector.js';
import { dutyKeep } from './duty.js';
import { firstRunningMode, type ObservedBlock } from './observed-block.js';
import { createTableCache } from './table-cache.js';

export interface SootLoadState {
  readonly sootG: number;
  /** Variance of the load, g2; null before the engine ran. */
  readonly varianceG2: number | null;
  /** Running time since the soot signal was last taken in. */
  readonly sinceFusedMs: number;
  /** Times that it was taken in. */
  readonly fused: number;
  /** Soot caught and burn-off rate of late; null before any was reckoned. */
  readonly madeGPerS: number | null;
  readonly burnPerS: number | null;
}

/** Load at which the filter wants to be burnt off, in grams. */
export function sootLimitG(config: DetectorConfig): number {
  return config.profile.sootLimitGPerL * config.profile.particulateFilterL;
}

/** Nothing is known of the load in the beginning: none, give or take 40 % of the limit. Source: engineering judgement. */
export function initialSootLoad(): SootLoadState {
  return { sootG: 0, varianceG2: null, sinceFusedMs: 0, fused: 0, madeGPerS: null, burnPerS: null };
}

/** Load of the work that an outlook speaks of. Source: engineering judgement; 350 C needs 50-75 % (domain notes, 5.2). */
const workLoadPct = 75;
const hottestC = 1100;
const degrees = hottestC + 1;
const mostLoadPct = 250;
/** NO2 rises with load up to half load, in classes of 5 %. */
const halfLoadPct = 50;
const classPct = 5;
const loadClasses = halfLoadPct / classPct + 1;
/** Density of diesel, kg/L. Source: domain notes, section 4.2 (0.835). */
const dieselKgPerL = 0.835;
/** Oxygen in the exhaust at light and full load is 15 and 7 %; one value. Source: engineering judgement. */
const o2Ratio = 0.1;
/** NO2 before the filter at no load and from half load on. Source: domain notes, section 2 (100-300 ppm); from memory. */
const no2IdleRatio = 100e-6;
const no2LoadedRatio = 300e-6;
/** The machine's own soot signal, as a share of the limit. Source: engineering judgement. */
const signalDeviation = 0.1;
/** Growth of the model's own doubt: a fifth of the limit in ten hours. Source: engineering judgement. */
const doubtRatio = 0.2;
const doubtS = 36_000;
const priorDeviation = 0.4;
/** Least running time between two uses of the soot signal: readings closer together tell nothing new. */
const fuseEveryMs = 60_000;

/** What hangs on the configuration alone, by whole degrees and whole percent of load. */
interface SootTable {
  readonly limitG: number;
  /**
   * By load class and degree, three numbers each, side by side for the processor's sake: burn-off rate, what a second
   * leaves of the load, what a second of one g/s adds.
   */
  readonly burning: Float64Array;
  /** Soot caught for each L/h of fuel, and fuel where none is sent. */
  readonly sootPerFuel: Float64Array;
  readonly fuelLPerH: Float64Array;
}

/** Machines of one kind share a table. */
const tables = createTableCache<SootTable>();

/**
 * Moves the load over a block, exactly for conditions that hold over a stretch.
 *
 * dm/dt = caught soot - (NO2 rate + O2 rate) m while the engine runs with a known temperature (filter inlet where sent).
 * Below the dosing release temperature nothing burns in the model, so that a cold idle never looks like a cure; the supply
 * of NO2 is not limited. A scalar filter joins the soot signal (dpfSootPct) once a minute of running.
 * Missing: without temperature soot is not reckoned at all and the load stands still; without fuel rate fuel follows load.
 * Source: domain notes, section 2.2; libs/aftertreatment.
 */
export function foldSootLoad(config: DetectorConfig, state: SootLoadState, block: ObservedBlock): SootLoadState {
  if (!config.profile.hasParticulateFilter) return state;
  const table = sootTable(config);
  const { mode, heldMs, exhaustTempC, engineLoadPct, fuelRateLPerH, further } = block;
  const { dpfInletTempC, dpfSootPct } = further;
  const columns = { mode, heldMs, exhaustTempC, engineLoadPct, fuelRateLPerH, dpfInletTempC, dpfSootPct };
  const work: Work = {
    table,
    sootG: state.sootG,
    varianceG2: state.varianceG2 ?? (priorDeviation * table.limitG) ** 2,
    sinceFusedMs: state.sinceFusedMs,
    fused: state.fused,
    madeGPerS: state.madeGPerS ?? Number.NaN,
    burnPerS: state.burnPerS ?? Number.NaN,
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
}

interface Columns extends Pick<ObservedBlock, 'mode' | 'heldMs' | 'exhaustTempC' | 'engineLoadPct' | 'fuelRateLPerH'> {
  readonly dpfInletTempC: Float32Array | undefined;
  readonly dpfSootPct: Float32Array | undefined;
}

// One loop is what makes it fast; it stays in one piece.
// oxlint-disable-next-line max-lines-per-function
function foldStretches(work: Work, columns: Columns, count: number): void {
  const { mode, heldMs, exhaustTempC, engineLoadPct, fuelRateLPerH, dpfInletTempC, dpfSootPct } = columns;
  const { burning, sootPerFuel, fuelLPerH, limitG } = work.table;
  const growthG2PerS = (doubtRatio * limitG) ** 2 / doubtS;
  for (let i = 0; i < count; i++) {
    if ((mode[i] as number) < firstRunningMode) continue;
    const held = heldMs[i] as number;
    let tempC = dpfInletTempC === undefined ? Number.NaN : (dpfInletTempC[i] as number);
    if (tempC !== tempC) tempC = exhaustTempC[i] as number;
    if (tempC === tempC && held > 0) {
      const loadPct = engineLoadPct[i] as number;
      const load = loadPct > 0 ? Math.min(mostLoadPct, loadPct | 0) : 0;
      const sent = fuelRateLPerH[i] as number;
      const madeNow = (sootPerFuel[load] as number) * (sent === sent ? sent : (fuelLPerH[load] as number));
      const degree = tempC > 0 ? Math.min(hottestC, (tempC + 0.5) | 0) : 0;
      const loadClass = load < halfLoadPct ? (load / classPct) | 0 : loadClasses - 1;
      const at = (loadClass * degrees + degree) * 3;
      const burnNow = burning[at] as number;
      let keep = burning[at + 1] as number;
      let gainS = burning[at + 2] as number;
      if (held !== 1000) {
        keep = Math.exp((-burnNow * held) / 1000);
        gainS = gainOf(burnNow, held / 1000);
      }
      work.sootG = work.sootG * keep + madeNow * gainS;
      work.varianceG2 = work.varianceG2 * keep * keep + (growthG2PerS * held) / 1000;
      if (work.madeGPerS !== work.madeGPerS) {
        work.madeGPerS = madeNow;
        work.burnPerS = burnNow;
      }
      const dutyPart = dutyKeep(held);
      work.madeGPerS = madeNow + (work.madeGPerS - madeNow) * dutyPart;
      work.burnPerS = burnNow + (work.burnPerS - burnNow) * dutyPart;
    }
    work.sinceFusedMs += held;
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
  }
}

/** What one g/s leaves after so many seconds of a burn-off. */
function gainOf(burnPerS: number, heldS: number): number {
  const x = burnPerS * heldS;
  return x > 1e-6 ? (1 - Math.exp(-x)) / burnPerS : heldS * (1 - x / 2);
}

/** Burn-off rate at a steady temperature under load, per second. Range: nought below the dosing release temperature. */
export function loadedBurnPerS(config: DetectorConfig, tempC: number): number {
  if (tempC < burnFromC(config)) return 0;
  return sootRateByNo2PerS(tempC, no2LoadedRatio) + sootRateByO2PerS(tempC, o2Ratio);
}

/** Soot that the filter catches while the engine works well loaded, g/s. Source: the model's own tables at 75 % load. */
export function workSootGPerS(config: DetectorConfig): number {
  const { sootPerFuel, fuelLPerH } = sootTable(config);
  return (sootPerFuel[workLoadPct] as number) * (fuelLPerH[workLoadPct] as number);
}

function burnFromC(config: DetectorConfig): number {
  return Math.min(config.profile.dosingReleaseTempC, config.window.lowC);
}

function sootTable(config: DetectorConfig): SootTable {
  const { profile } = config;
  const key = [
    burnFromC(config),
    sootLimitG(config),
    profile.displacementL,
    profile.ratedPowerKW,
    profile.sootLevel,
  ].join();
  return tables.get(key) ?? tables.add(key, buildTable(config));
}

function buildTable(config: DetectorConfig): SootTable {
  const { profile } = config;
  const byLoad = (value: (loadRatio: number) => number) =>
    Float64Array.from({ length: mostLoadPct + 1 }, (_, loadPct) => value(Math.min(1, loadPct / 100)));
  const idleLPerH = idleFuelLPerH(profile.displacementL);
  // Full load burns the rated power's fuel, 226 g/kWh as in the nonroad inventory factors.
  const fullLPerH = (profile.ratedPowerKW * 0.2257) / dieselKgPerL;
  const fromC = burnFromC(config);
  const burning = new Float64Array(loadClasses * degrees * 3);
  for (let cell = 0; cell < loadClasses * degrees; cell++) {
    const tempC = cell % degrees;
    const share = Math.floor(cell / degrees) / (loadClasses - 1);
    const no2Ratio = no2IdleRatio + (no2LoadedRatio - no2IdleRatio) * share;
    const rate = tempC < fromC ? 0 : sootRateByNo2PerS(tempC, no2Ratio) + sootRateByO2PerS(tempC, o2Ratio);
    burning.set([rate, Math.exp(-rate), gainOf(rate, 1)], cell * 3);
  }
  return {
    limitG: sootLimitG(config),
    burning,
    sootPerFuel: byLoad((loadRatio) =>
      caughtSootGPerS({ fuelKgPerH: dieselKgPerL, loadRatio, level: profile.sootLevel }),
    ),
    fuelLPerH: byLoad((load) => idleLPerH + (fullLPerH - idleLPerH) * load),
  };
}
