/** What the soot-risk score is made of beside the soot load: indices that only heat can lower. */

import {
  idleFuelLPerH,
  sootRateByNo2PerS,
  sootRateByO2PerS,
  ureaDepositRates,
  ureaStickingRatio,
} from '@warmbrick/aftertreatment';
import type { DetectorConfig } from './detector.js';
import { isHotStop } from './hot-shutdown-detector.js';
import { type EngineStop, firstRunningMode, modeCode, type ObservedBlock } from './observed-block.js';
import { createTableCache } from './table-cache.js';

export interface SootRiskState {
  /** Urea deposit that the temperatures were right for, in grams; one pool. */
  readonly exposureG: number;
  /** Indices, 0..1. */
  readonly cold: number;
  readonly idling: number;
  readonly hotStops: number;
}

export const initialSootRisk: SootRiskState = { exposureG: 0, cold: 0, idling: 0, hotStops: 0 };

/** Time constants in seconds. Source: engineering judgement; eight cold hours take the cold index to three quarters. */
const coldBuildS = 6 * 3600;
const idleBuildS = 4 * 3600;
const idleRecoverS = 2 * 3600;
const hotStopRecoverS = 10 * 3600;
/** Step of the hot-stop index for a stop without any cool-down. Source: engineering judgement. */
const hotStopStep = 0.35;
/** Gas that the burn-off is reckoned with. Source: domain notes, section 2.3 (300 ppm NO2, 10 % O2). */
const no2Ratio = 300e-6;
const o2Ratio = 0.1;

/** Density of DEF, g/L, and its share of urea. Source: ISO 22241-1 (1090 kg/m3 at 20 C, 32.5 %). */
const ureaGPerDefL = 1090 * 0.325;
/** Cooling of the wall by the spray. Source: from memory (20-60 K). */
const sprayCoolingK = 40;

/** Built once a configuration. */
interface RiskTable {
  /** `cellSize` numbers a whole degree, side by side for the processor's sake; their places are in `cell`. */
  readonly byDegree: Float64Array;
  readonly ureaGPerSPerFuel: number;
  readonly idleLPerH: number;
}

/** Places in the cell of a degree. */
const cell = {
  /** Equilibrium of the cold index, the share of the distance to it that is left after one second, and the rate of that. */
  settle: 0,
  keepOfSecond: 1,
  ratePerS: 2,
  /** Share of the urea that sticks, and rate at which cyanuric acid burns off. */
  sticking: 3,
  depositBurnPerS: 4,
  /** What a second leaves of the pool, and what a second of one g/s adds. */
  depositKeepOfSecond: 5,
  depositGainOfSecondS: 6,
} as const;
const cellSize = 8;

const hottestC = 900;
/** Machines of one kind share a table. */
const tables = createTableCache<RiskTable>();

/**
 * Moves the indices over a block.
 *
 * exposure: grams of deposit as one pool: urea that the fuel calls for, sticking as at this temperature (below dosing release
 * as at dosing release, where the doser would run if the catalyst were warm enough), burnt off like cyanuric acid.
 * cold: d/dt = build(T) (1 - x) - burn(T) x while running with a known temperature, build falling from the dosing release
 * temperature to the window's low end, burn rising by the published soot kinetics. So hotter running never raises it and
 * longer running below release never lowers it.
 * idling: towards 1 while idling (a cool-down is no idling), towards 0 while working inside or above the window.
 * hot-stops: a step at each hot shutdown, larger the shorter the cool-down; recovers like idling, more slowly.
 * Missing: without temperature the indices stand still; the confidence tells.
 */
export function foldSootRisk(config: DetectorConfig, state: SootRiskState, block: ObservedBlock): SootRiskState {
  const { mode, heldMs, exhaustTempC, fuelRateLPerH, stops } = block;
  const columns = { mode, heldMs, exhaustTempC, fuelRateLPerH };
  const work: Work = { table: riskTable(config), lowC: config.window.lowC, ...state };
  let from = 0;
  for (const stop of stops) {
    foldStretches(work, columns, { from, to: stop.index + 1 });
    work.hotStops = afterStop(config, work.hotStops, stop);
    from = stop.index + 1;
  }
  foldStretches(work, columns, { from, to: block.count });
  return { exposureG: work.exposureG, cold: work.cold, idling: work.idling, hotStops: work.hotStops };
}

type Columns = Pick<ObservedBlock, 'mode' | 'heldMs' | 'exhaustTempC' | 'fuelRateLPerH'>;

/** The running figures. */
interface Work {
  readonly table: RiskTable;
  readonly lowC: number;
  exposureG: number;
  cold: number;
  idling: number;
  hotStops: number;
}

/** Stretches of which none but the last is the end of a run. */
function foldStretches(work: Work, columns: Columns, { from, to }: { from: number; to: number }): void {
  const { mode, heldMs, exhaustTempC, fuelRateLPerH } = columns;
  const { byDegree, ureaGPerSPerFuel, idleLPerH } = work.table;
  const { lowC } = work;
  for (let i = from; i < to; i++) {
    const code = mode[i] as number;
    if (code < firstRunningMode) continue;
    const held = heldMs[i] as number;
    const tempC = exhaustTempC[i] as number;
    if (tempC === tempC) {
      const at = degreeOf(tempC) * cellSize;
      const settle = byDegree[at + cell.settle] as number;
      const fuel = fuelRateLPerH[i] as number;
      const stuckGPerS =
        (fuel === fuel ? fuel : idleLPerH) * ureaGPerSPerFuel * (byDegree[at + cell.sticking] as number);
      if (held === 1000) {
        work.cold = settle + (work.cold - settle) * (byDegree[at + cell.keepOfSecond] as number);
        work.exposureG =
          work.exposureG * (byDegree[at + cell.depositKeepOfSecond] as number) +
          stuckGPerS * (byDegree[at + cell.depositGainOfSecondS] as number);
      } else {
        work.cold = settle + (work.cold - settle) * Math.exp((-(byDegree[at + cell.ratePerS] as number) * held) / 1000);
        const burnPerS = byDegree[at + cell.depositBurnPerS] as number;
        work.exposureG = exposed(work.exposureG, { stuckGPerS, burnPerS, heldS: held / 1000 });
      }
    }
    if (code === modeCode.idle) {
      work.idling = 1 - (1 - work.idling) * (held === 1000 ? idleKeepPerS : Math.exp(-held / 1000 / idleBuildS));
    } else if (code === modeCode.working && tempC >= lowC) {
      work.idling *= held === 1000 ? workKeepPerS : Math.exp(-held / 1000 / idleRecoverS);
      work.hotStops *= held === 1000 ? hotStopKeepPerS : Math.exp(-held / 1000 / hotStopRecoverS);
    }
  }
}

/** Whole degree that a temperature belongs to, within the table. */
function degreeOf(tempC: number): number {
  return tempC > 0 ? Math.min(hottestC, (tempC + 0.5) | 0) : 0;
}

interface Exposure {
  readonly stuckGPerS: number;
  readonly burnPerS: number;
  readonly heldS: number;
}

/** The pool after a stretch: exact for constant conditions. */
function exposed(exposureG: number, { stuckGPerS, burnPerS, heldS }: Exposure): number {
  const x = burnPerS * heldS;
  if (x < 1e-9) return exposureG + stuckGPerS * heldS;
  const keep = Math.exp(-x);
  return exposureG * keep + (stuckGPerS * (1 - keep)) / burnPerS;
}

const idleKeepPerS = Math.exp(-1 / idleBuildS);
const workKeepPerS = Math.exp(-1 / idleRecoverS);
const hotStopKeepPerS = Math.exp(-1 / hotStopRecoverS);

function afterStop(config: DetectorConfig, hotStops: number, stop: EngineStop): number {
  if (!isHotStop(config, stop)) return hotStops;
  const missingRatio = 1 - (stop.cooldownS as number) / config.thresholds.cooldownWantedS;
  return hotStops + (1 - hotStops) * hotStopStep * missingRatio;
}

/** The indices after work at a steady temperature, for the advice. */
export function afterWork(
  config: DetectorConfig,
  state: SootRiskState,
  tempC: number,
  elapsedS: number,
): SootRiskState {
  const { byDegree } = riskTable(config);
  const at = degreeOf(tempC) * cellSize;
  const settle = byDegree[at + cell.settle] as number;
  const cold = settle + (state.cold - settle) * Math.exp(-(byDegree[at + cell.ratePerS] as number) * elapsedS);
  const isInside = tempC >= config.window.lowC;
  const burnPerS = byDegree[at + cell.depositBurnPerS] as number;
  return {
    exposureG: exposed(state.exposureG, { stuckGPerS: 0, burnPerS, heldS: elapsedS }),
    cold,
    idling: state.idling * (isInside ? Math.exp(-elapsedS / idleRecoverS) : 1),
    hotStops: state.hotStops * (isInside ? Math.exp(-elapsedS / hotStopRecoverS) : 1),
  };
}

function riskTable(config: DetectorConfig): RiskTable {
  const { dosingReleaseTempC, defToFuelRatio, displacementL } = config.profile;
  const key = [config.window.lowC, dosingReleaseTempC, defToFuelRatio, displacementL].join();
  return tables.get(key) ?? tables.add(key, buildTable(config));
}

function buildTable(config: DetectorConfig): RiskTable {
  const releaseC = Math.min(config.profile.dosingReleaseTempC, config.window.lowC);
  const byDegree = new Float64Array((hottestC + 1) * cellSize);
  for (let tempC = 0; tempC <= hottestC; tempC++) {
    const at = tempC * cellSize;
    const build = buildPerS(config, tempC);
    const rate = build + burnPerS(config, tempC);
    const depositBurn = tempC < releaseC ? 0 : ureaDepositRates(tempC).cyanuricPerS;
    byDegree[at + cell.settle] = rate > 0 ? build / rate : 0;
    byDegree[at + cell.keepOfSecond] = Math.exp(-rate);
    byDegree[at + cell.ratePerS] = rate;
    byDegree[at + cell.sticking] = ureaStickingRatio(Math.max(tempC, releaseC) - sprayCoolingK);
    byDegree[at + cell.depositBurnPerS] = depositBurn;
    byDegree[at + cell.depositKeepOfSecond] = Math.exp(-depositBurn);
    byDegree[at + cell.depositGainOfSecondS] = exposed(0, { stuckGPerS: 1, burnPerS: depositBurn, heldS: 1 });
  }
  return {
    byDegree,
    ureaGPerSPerFuel: (config.profile.defToFuelRatio * ureaGPerDefL) / 3600,
    idleLPerH: idleFuelLPerH(config.profile.displacementL),
  };
}

function buildPerS(config: DetectorConfig, tempC: number): number {
  const { lowC } = config.window;
  const releaseC = Math.min(config.profile.dosingReleaseTempC, lowC);
  if (tempC <= releaseC) return 1 / coldBuildS;
  return tempC >= lowC ? 0 : (lowC - tempC) / (lowC - releaseC) / coldBuildS;
}

/** None below dosing release, so that a long cold idle never looks like a cure. */
function burnPerS(config: DetectorConfig, tempC: number): number {
  if (tempC < Math.min(config.profile.dosingReleaseTempC, config.window.lowC)) return 0;
  return sootRateByNo2PerS(tempC, no2Ratio) + sootRateByO2PerS(tempC, o2Ratio);
}
