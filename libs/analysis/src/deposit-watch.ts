/**
 * Urea deposits on the way to the SCR catalyst, once a minute: three pools by the published kinetics, corrected by what the
 * NOx sensors show. Deposits in the spray cost conversion; a catalyst that was burnt clean and still converts less is worn.
 */

import {
  applyUreaDepositStep,
  leastNoxForConversionPpm,
  noUreaDeposits,
  scrConversionRatio,
  sprayedWallTempC,
  totalDepositG,
  type UreaDepositStep,
  type UreaDeposits,
  ureaDepositStep,
  ureaStickingRatio,
} from '@warmbrick/aftertreatment';
import type { DetectorConfig } from './detector.js';
import { rounded } from './figures.js';
import { firstAtOrAfter, markAfterMs } from './minute-marks.js';
import { firstRunningMode, type ObservedBlock } from './observed-block.js';

export interface DepositWatchState {
  /** The next minute at whose first sample everything is read; the last one read while running, 0 for none. */
  readonly markMs: number;
  readonly lastMs: number;
  /** Grams in the pools, with the usual share of urea sticking. */
  readonly pools: UreaDeposits;
  /** How much faster than that they grow on this machine, as its conversion showed; 1 until it did. */
  readonly factor: number;
  /** Whether the machine ever sent its dosing. */
  readonly hasDosing: boolean;
  /** Conversion against what the catalyst family can, of late and at its own best; readings that made it, up to 10. */
  readonly quality: number;
  readonly best: number;
  readonly readings: number;
  /** Minutes since the last reading, and hot minutes less others: enough of them leave nothing. */
  readonly sinceReading: number;
  readonly hotMinutes: number;
  /** Minutes of running since the start. */
  readonly runMinutes: number;
  /** Highest share of the limit of late. */
  readonly peakRatio: number;
}

type Work = { -readonly [K in keyof DepositWatchState]: DepositWatchState[K] };

export const initialDepositWatch: DepositWatchState = {
  markMs: 0,
  lastMs: 0,
  pools: noUreaDeposits,
  factor: 1,
  hasDosing: false,
  quality: 1,
  best: 1,
  readings: 0,
  sinceReading: 0,
  hotMinutes: 0,
  runMinutes: 0,
  peakRatio: 0,
};

/** Density of DEF, g/L, and its share of urea. Source: ISO 22241-1 (1090 kg/m3 at 20 C, 32.5 %). */
const defGPerL = 1090;
const ureaPerDef = 0.325;
/** Share of soluble deposit that turns into cyanuric acid. Source: domain notes 3.4, a design choice; here at any temperature. */
const cyanuricShareRatio = 0.3;
/** Full dosing of a litre of displacement, g/h. Source: domain notes 1.3, about 1870 g/h of a measured 6.7 L engine. */
const fullDosingGPerHPerL = 280;
/** Decimals of a gram that are kept: what decays for ever would be long to write down. */
const poolDecimals = 8;
/** A minute with a longer silence before it adds nothing, ms. */
const longestStepMs = 120_000;
const hottestC = 900;
/** Minutes above the dosing release over which the peak is forgotten. Source: engineering judgement, three days of work. */
const peakMinutes = 1800;

/** Readings of conversion: minutes after the start, K above the release, hottest degC. Source: engineering judgement. */
const warmMinutes = 10;
const aboveReleaseK = 30;
const hottestReadC = 500;
/** A reading counts where a catalyst worn by so many K would still convert so much. Source: engineering judgement. */
const wornK = 40;
const leastWornRatio = 0.8;
/** Most that a controller aims at. Source: engineering judgement; 96 % leaves no ammonia over. */
const aimedRatio = 0.96;
const readingsKept = 10;
/** Share of a reading that the best takes over while nothing is in the spray. */
const bestShare = 1 / 20;
/** Hot enough to burn everything off, degC, and for how long, min. Source: domain notes 3.4, 10-20 min at 400 C. */
const cleaningC = 400;
const cleaningMinutes = 20;
/** Lost share of the own conversion that stands for the limit. Source: engineering judgement. */
const lostAtLimitRatio = 0.4;
/** From this share of the limit on it teaches the factor, within these bounds, by so much a minute. Source: judgement. */
const teachingRatio = 0.25;
const leastFactor = 0.3;
const mostFactor = 15;
const risingShare = 0.1;
const fallingShare = 0.02;
/** Running minutes for which a reading stands. Source: engineering judgement. */
const readingStandsMinutes = 300;

/**
 * Moves pools and readings over a block.
 *
 * Dosing is what the machine sends; else, from the dosing release temperature on, the profile's share of the fuel. Below that
 * temperature nothing decomposes in the model, so that a cold idle never looks like a cure.
 * Missing: without temperature the pools stand still; without both NOx signals the factor stays as it is.
 * Source: domain notes, section 3.4: rates published, yields and shares of the pools are guesses; that deposits cost
 * conversion is common knowledge, by how much engineering judgement.
 */
export function foldDepositWatch(
  config: DetectorConfig,
  state: DepositWatchState,
  block: ObservedBlock,
): DepositWatchState {
  let i = firstAtOrAfter(block.timeMs, { from: 0, to: block.count }, state.markMs);
  if (i >= block.count) return state;
  const work: Work = { ...state };
  while (i < block.count) {
    const atMs = block.timeMs[i] as number;
    const code = block.mode[i] as number;
    if (code >= firstRunningMode) readMinute(config, work, { block, i });
    else if (code !== 0) work.runMinutes = 0;
    work.lastMs = code >= firstRunningMode ? atMs : 0;
    work.markMs = markAfterMs(atMs);
    i = firstAtOrAfter(block.timeMs, { from: i, to: block.count }, work.markMs);
  }
  return work;
}

/** What the models and sensors say of the deposits: a share of the limit. */
export function depositRatio(config: DetectorConfig, state: DepositWatchState): number {
  return Math.max(depositG(state) / config.profile.depositLimitG, shownRatio(state));
}

/** Grams, as they grow on this machine. */
function depositG({ factor, pools }: DepositWatchState): number {
  return factor * totalDepositG(pools);
}

/** The pools brought to what is believed of them; what only shows in the conversion counts as the hardest. */
export function believedDeposits(config: DetectorConfig, state: DepositWatchState): UreaDeposits {
  const { pools, factor } = state;
  const solubleG = factor * pools.solubleG;
  const cyanuricG = factor * pools.cyanuricG;
  const believedG = depositRatio(config, state) * config.profile.depositLimitG;
  return { solubleG, cyanuricG, ammelideG: Math.max(factor * pools.ammelideG, believedG - solubleG - cyanuricG) };
}

/** The state after so many minutes of heat that left so much; the conversion then shows as much less as there is less. */
export function burntDown(
  config: DetectorConfig,
  state: DepositWatchState,
  after: { leftG: number; minutes: number },
): DepositWatchState {
  const { depositLimitG } = config.profile;
  const shownAfter = Math.min(shownRatio(state), after.leftG / depositLimitG);
  return {
    ...state,
    pools: { solubleG: 0, cyanuricG: 0, ammelideG: after.leftG / state.factor },
    quality: state.best * (1 - lostAtLimitRatio * shownAfter),
    peakRatio: state.peakRatio * (1 - 1 / peakMinutes) ** after.minutes,
  };
}

/** Whether the conversion has taught anything of late. */
export function isDepositMeasured(state: DepositWatchState): boolean {
  return state.readings >= readingsKept && state.sinceReading < readingStandsMinutes;
}

/** Share of the limit that the lost conversion stands for. */
function shownRatio(state: DepositWatchState | Work): number {
  if (!isDepositMeasured(state) || isBurnt(state)) return 0;
  return Math.min(1, Math.max(0, 1 - state.quality / state.best) / lostAtLimitRatio);
}

function isBurnt({ hotMinutes }: DepositWatchState | Work): boolean {
  return hotMinutes >= cleaningMinutes;
}

interface Minute {
  readonly block: ObservedBlock;
  readonly i: number;
}

function readMinute(config: DetectorConfig, work: Work, { block, i }: Minute): void {
  const { scrInletTempC, defDosingGPerH } = block.further;
  const atMs = block.timeMs[i] as number;
  const elapsedMs = work.lastMs === 0 ? 0 : atMs - work.lastMs;
  work.runMinutes++;
  work.sinceReading = Math.min(readingStandsMinutes, work.sinceReading + 1);
  let tempC = scrInletTempC?.[i] ?? Number.NaN;
  if (tempC !== tempC) tempC = block.exhaustTempC[i] as number;
  const sentGPerH = defDosingGPerH?.[i] ?? Number.NaN;
  const isSent = sentGPerH === sentGPerH;
  if (isSent) work.hasDosing = true;
  if (tempC !== tempC) return;
  const releaseC = config.profile.dosingReleaseTempC;
  const fuel = block.fuelRateLPerH[i] as number;
  const modelled = tempC >= releaseC && fuel === fuel ? fuel * config.profile.defToFuelRatio * defGPerL : 0;
  const dosingGPerH = isSent ? sentGPerH : modelled;
  if (elapsedMs > 0 && elapsedMs <= longestStepMs) grow(config, work, { tempC, dosingGPerH, elapsedMs });
  work.hotMinutes =
    tempC >= cleaningC
      ? Math.min(2 * cleaningMinutes, work.hotMinutes + 1)
      : Math.max(0, rounded(work.hotMinutes - 0.1, 1));
  if (work.runMinutes > warmMinutes && dosingGPerH > 0) readConversion(config, work, { block, i, tempC });
  const ratio = depositRatio(config, work);
  const fading = tempC >= Math.min(releaseC, config.window.lowC) ? 1 - 1 / peakMinutes : 1;
  work.peakRatio = rounded(Math.max(ratio, work.peakRatio * fading), 7);
}

function grow(
  config: DetectorConfig,
  work: Work,
  over: { tempC: number; dosingGPerH: number; elapsedMs: number },
): void {
  const { tempC, dosingGPerH, elapsedMs } = over;
  if (dosingGPerH === 0 && work.pools === noUreaDeposits) return;
  const { displacementL, dosingReleaseTempC } = config.profile;
  const wallC = sprayedWallTempC(tempC, dosingGPerH / (fullDosingGPerHPerL * displacementL));
  const stickingGPerS = (dosingGPerH * ureaPerDef * ureaStickingRatio(wallC)) / 3600;
  const isInert = tempC < Math.min(dosingReleaseTempC, config.window.lowC);
  work.pools = isInert
    ? { ...work.pools, solubleG: work.pools.solubleG + (stickingGPerS * elapsedMs) / 1000 }
    : applyUreaDepositStep(work.pools, stepOf(wallC, elapsedMs), stickingGPerS);
  work.pools = {
    solubleG: rounded(work.pools.solubleG, poolDecimals),
    cyanuricG: rounded(work.pools.cyanuricG, poolDecimals),
    ammelideG: rounded(work.pools.ammelideG, poolDecimals),
  };
}

/** A conversion at a temperature at which even a worn catalyst works, and what it says of the spray. */
function readConversion(config: DetectorConfig, work: Work, at: Minute & { tempC: number }): void {
  const { block, i, tempC } = at;
  const { dosingReleaseTempC, catalystFamily, depositLimitG } = config.profile;
  const inPpm = block.further.noxInPpm?.[i] ?? Number.NaN;
  const outPpm = block.further.noxOutPpm?.[i] ?? Number.NaN;
  if (!(inPpm >= leastNoxForConversionPpm && outPpm >= 0)) return;
  if (tempC < dosingReleaseTempC + aboveReleaseK || tempC > hottestReadC) return;
  if (scrConversionRatio(catalystFamily, tempC - wornK) < leastWornRatio) return;
  const can = Math.min(aimedRatio, scrConversionRatio(catalystFamily, tempC));
  const quality = Math.max(0, 1 - outPpm / inPpm) / can;
  work.readings = Math.min(readingsKept, work.readings + 1);
  work.quality = rounded(work.quality + (quality - work.quality) / work.readings, 5);
  work.sinceReading = 0;
  const modelledRatio = depositG(work) / depositLimitG;
  const isClean = isBurnt(work) || (modelledRatio < 0.1 && work.quality > 0.8 * work.best);
  if (isClean) {
    work.best = rounded(work.best + (work.quality - work.best) * bestShare, 6);
    return;
  }
  teach(work, shownRatio(work), depositLimitG);
}

/** What shows and what the pools say are brought together slowly; a lost conversion beyond the limit only says "at least". */
function teach(work: Work, ratio: number, limitG: number): void {
  const pooledG = totalDepositG(work.pools);
  if (pooledG < 0.01 * limitG) return;
  const wanted = Math.min(mostFactor, Math.max(leastFactor, (Math.max(ratio, teachingRatio) * limitG) / pooledG));
  if (ratio >= teachingRatio && wanted > work.factor)
    work.factor = rounded(work.factor + (wanted - work.factor) * risingShare, 5);
  else if (ratio < 1 && wanted < work.factor)
    work.factor = rounded(work.factor + (wanted - work.factor) * fallingShare, 5);
}

/** Maps of steps by whole degree and length; bounded. */
const steps = new Map<number, UreaDepositStep>();
const mostSteps = 4096;

function stepOf(wallC: number, elapsedMs: number): UreaDepositStep {
  const degree = Math.min(hottestC, Math.max(0, Math.round(wallC)));
  const key = elapsedMs * 1000 + degree;
  const known = steps.get(key);
  if (known !== undefined) return known;
  if (steps.size >= mostSteps) steps.clear();
  const step = ureaDepositStep(degree, elapsedMs / 1000, cyanuricShareRatio);
  steps.set(key, step);
  return step;
}
