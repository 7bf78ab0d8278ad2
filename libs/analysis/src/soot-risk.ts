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

/** Rates per second at each whole degree; built once a configuration. */
interface RiskTable {
  /** Share of the urea that sticks, and rate at which cyanuric acid burns off. */
  readonly sticking: Float64Array;
  readonly depositBurnPerS: Float64Array;
  /** What a second leaves of the pool, and what a second of one g/s adds. */
  readonly depositKeepOfSecond: Float64Array;
  readonly depositGainOfSecondS: Float64Array;
  readonly ureaGPerSPerFuel: number;
  readonly idleLPerH: number;
  /** Equilibrium of the cold index and the share of the distance to it that is left after one second. */
  readonly settle: Float64Array;
  readonly keepPerS: Float64Array;
  readonly rate: Float64Array;
}

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
  const table = riskTable(config);
  const { lowC } = config.window;
  const { count, mode, heldMs, exhaustTempC, fuelRateLPerH, stops } = block;
  const { sticking, depositBurnPerS, depositKeepOfSecond, depositGainOfSecondS, ureaGPerSPerFuel, idleLPerH } = table;
  let { exposureG, cold, idling, hotStops } = state;
  let nextStop = 0;
  for (let i = 0; i < count; i++) {
    const code = mode[i] as number;
    if (code >= firstRunningMode) {
      const held = heldMs[i] as number;
      const tempC = exhaustTempC[i] as number;
      if (tempC === tempC) {
        const at = Math.min(hottestC, Math.max(0, Math.round(tempC)));
        const settle = table.settle[at] as number;
        const keep =
          held === 1000 ? (table.keepPerS[at] as number) : Math.exp((-(table.rate[at] as number) * held) / 1000);
        cold = settle + (cold - settle) * keep;
        const fuel = fuelRateLPerH[i] as number;
        const stuckGPerS = (fuel === fuel ? fuel : idleLPerH) * ureaGPerSPerFuel * (sticking[at] as number);
        exposureG =
          held === 1000
            ? exposureG * (depositKeepOfSecond[at] as number) + stuckGPerS * (depositGainOfSecondS[at] as number)
            : exposed(exposureG, { stuckGPerS, burnPerS: depositBurnPerS[at] as number, heldS: held / 1000 });
      }
      if (code === modeCode.idle) {
        idling = 1 - (1 - idling) * (held === 1000 ? idleKeepPerS : Math.exp(-held / 1000 / idleBuildS));
      } else if (code === modeCode.working && tempC >= lowC) {
        idling *= held === 1000 ? workKeepPerS : Math.exp(-held / 1000 / idleRecoverS);
        hotStops *= held === 1000 ? hotStopKeepPerS : Math.exp(-held / 1000 / hotStopRecoverS);
      }
    }
    while (nextStop < stops.length && (stops[nextStop] as EngineStop).index === i) {
      hotStops = afterStop(config, hotStops, stops[nextStop] as EngineStop);
      nextStop++;
    }
  }
  return { exposureG, cold, idling, hotStops };
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
  const table = riskTable(config);
  const at = Math.min(hottestC, Math.max(0, Math.round(tempC)));
  const settle = table.settle[at] as number;
  const cold = settle + (state.cold - settle) * Math.exp(-(table.rate[at] as number) * elapsedS);
  const isInside = tempC >= config.window.lowC;
  const burnPerS = table.depositBurnPerS[at] as number;
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
  const settle = new Float64Array(hottestC + 1);
  const keepPerS = new Float64Array(hottestC + 1);
  const rate = new Float64Array(hottestC + 1);
  for (let tempC = 0; tempC <= hottestC; tempC++) {
    const build = buildPerS(config, tempC);
    const burn = burnPerS(config, tempC);
    rate[tempC] = build + burn;
    settle[tempC] = build + burn > 0 ? build / (build + burn) : 0;
    keepPerS[tempC] = Math.exp(-(build + burn));
  }
  const releaseC = Math.min(config.profile.dosingReleaseTempC, config.window.lowC);
  const byDegree = (value: (tempC: number) => number) =>
    Float64Array.from({ length: hottestC + 1 }, (_, tempC) => value(tempC));
  const depositBurnPerS = byDegree((tempC) => (tempC < releaseC ? 0 : ureaDepositRates(tempC).cyanuricPerS));
  const table = {
    settle,
    keepPerS,
    rate,
    sticking: byDegree((tempC) => ureaStickingRatio(Math.max(tempC, releaseC) - sprayCoolingK)),
    depositBurnPerS,
    depositKeepOfSecond: depositBurnPerS.map((rate) => Math.exp(-rate)),
    depositGainOfSecondS: depositBurnPerS.map((burnPerS) => exposed(0, { stuckGPerS: 1, burnPerS, heldS: 1 })),
    ureaGPerSPerFuel: (config.profile.defToFuelRatio * ureaGPerDefL) / 3600,
    idleLPerH: idleFuelLPerH(config.profile.displacementL),
  };
  return table;
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
