/** Derates as the machine broadcasts them: inducement severity, torque limit, derate request, torque mode. */

import type { DetectorConfig, DetectorEvent } from './detector.js';
import { rounded } from './figures.js';
import { firstAtOrAfter, markAfterMs } from './minute-marks.js';
import { firstRunningMode, type ObservedBlock } from './observed-block.js';
import { repeatOpen } from './repeat-open.js';

/** Severities of SPN 5246 that take power; 6 is a temporary override. Source: domain notes on exhaust physics, 7.3. */
const derateSeverity = 3;
const severestSeverity = 5;
/** Torque mode 8 is torque limiting. Source: domain notes on J1939, 2b. */
const limitingMode = 8;
/**
 * The torque that an engine makes available hangs on its speed: it is compared with its own past in bands of speed. Source:
 * engineering judgement; a recorded truck in sound state sends 38 % at idle and 46-61 % while driving.
 */
const bands = { fromRpm: 700, widthRpm: 250, count: 8 };
/** The past is the mean of about so many minutes. Source: engineering judgement. */
const pastMinutes = 60;
/** At or under this share of the torque a derate is severe. Source: domain notes 7.2, half of the torque, from memory. */
const severeTorqueRatio = 0.6;
const minuteS = 60;

/** Signs by number, as flags in the state. */
const signs = { severity: 1, limit: 2, request: 4, mode: 8 } as const;

/** Plain values. A row is of minutes that follow each other, with the time of its first one. */
export interface DerateState {
  readonly markMs: number;
  /** Usual limit by band of speed, %, and of how many minutes. */
  readonly usualPct: readonly number[];
  readonly usualMinutes: readonly number[];
  readonly lowMinutes: number;
  readonly lowFromMs: number;
  /** The highest share of the usual torque in the row of low minutes, or in the last three of a derate. */
  readonly lowRatios: readonly number[];
  readonly modeMinutes: number;
  readonly modeFromMs: number;
  /** A request of nothing was seen, so that the machine does send what it means. */
  readonly hasSeenNoRequest: boolean;
  /** Signs that are on now; what a sample does not say stays. */
  readonly on: number;
  /** Start of the derate that goes on; 0 when there is none. */
  readonly openMs: number;
  readonly seen: number;
  readonly clearMinutes: number;
  readonly clearFromMs: number;
  readonly peakSeverity: number;
  readonly leastRatio: number;
  readonly mostRequestPct: number;
  readonly runMinutes: number;
  readonly lostMinutes: number;
}

interface Work
  extends Omit<{ -readonly [K in keyof DerateState]: DerateState[K] }, 'usualPct' | 'usualMinutes' | 'lowRatios'> {
  readonly usualPct: number[];
  readonly usualMinutes: number[];
  lowRatios: number[];
  readonly events: DetectorEvent[];
  readonly config: DetectorConfig;
}

/** One minute's reading. Missing: NaN. */
interface Reading {
  readonly atMs: number;
  readonly severity: number;
  readonly limitPct: number;
  readonly requestPct: number;
  readonly mode: number;
  readonly rpm: number;
}

const noDerate = {
  openMs: 0,
  seen: 0,
  clearMinutes: 0,
  clearFromMs: 0,
  peakSeverity: 0,
  leastRatio: 1,
  mostRequestPct: 0,
  runMinutes: 0,
  lostMinutes: 0,
};

/**
 * Reads the signs once a minute while the engine runs.
 *
 * Inducement severity 3-5 and a derate request count at once; a torque limit when it stays under the machine's own usual one at
 * that speed by `derateTorqueRatio` for `derateHoldS`; torque mode 8 only when it holds for `derateModeS`. It ends when no
 * sign was on for `derateClearS` of running; the engine standing still does not end it.
 * Units: running and lost time to the minute. `lostS` is running time weighed with the share of torque that was taken.
 * Missing: each sign needs its channel; a torque limit is not judged before `derateLearnS` of running in its band of speed.
 */
export const derateDetector = repeatOpen<DerateState>({
  name: 'derate',
  initial: () => ({
    markMs: 0,
    usualPct: new Array(bands.count).fill(0),
    usualMinutes: new Array(bands.count).fill(0),
    lowMinutes: 0,
    lowFromMs: 0,
    lowRatios: [],
    modeMinutes: 0,
    modeFromMs: 0,
    hasSeenNoRequest: false,
    on: 0,
    ...noDerate,
  }),
  step: (config, state, block) => {
    const { inducementSeverity, torqueLimitPct, derateRequestPct, torqueModeState } = block.further;
    const columns = [inducementSeverity, torqueLimitPct, derateRequestPct, torqueModeState];
    if (columns.every((column) => column === undefined)) return { state, events: [] };
    let i = firstAtOrAfter(block.timeMs, { from: 0, to: block.count }, state.markMs);
    if (i >= block.count) return { state, events: [] };
    const work: Work = {
      ...state,
      usualPct: [...state.usualPct],
      usualMinutes: [...state.usualMinutes],
      lowRatios: [...state.lowRatios],
      events: [],
      config,
    };
    while (i < block.count) {
      const reading = readingAt(block, i);
      if (reading === null) {
        // Only a reading moves the mark, so that a block without the channels is the same as one without values.
        i++;
        continue;
      }
      if ((block.mode[i] as number) >= firstRunningMode) read(work, reading);
      work.markMs = markAfterMs(reading.atMs);
      i = firstAtOrAfter(block.timeMs, { from: i, to: block.count }, work.markMs);
    }
    const { events, config: _config, ...rest } = work;
    return { state: rest, events };
  },
  open: (config, state) => (state.openMs === 0 ? [] : [eventOf(config, state, null)]),
});

function readingAt(block: ObservedBlock, i: number): Reading | null {
  const { inducementSeverity, torqueLimitPct, derateRequestPct, torqueModeState } = block.further;
  const severity = inducementSeverity?.[i] ?? Number.NaN;
  const limitPct = torqueLimitPct?.[i] ?? Number.NaN;
  const requestPct = derateRequestPct?.[i] ?? Number.NaN;
  const mode = torqueModeState?.[i] ?? Number.NaN;
  if (severity !== severity && limitPct !== limitPct && requestPct !== requestPct && mode !== mode) return null;
  return {
    atMs: block.timeMs[i] as number,
    severity,
    limitPct,
    requestPct,
    mode,
    rpm: block.engineSpeedRpm[i] as number,
  };
}

function read(work: Work, reading: Reading): void {
  const { thresholds } = work.config;
  const { atMs, severity, requestPct } = reading;
  if (severity === severity) put(work, signs.severity, severity >= derateSeverity && severity <= severestSeverity);
  if (requestPct === requestPct) {
    if (requestPct === 0) work.hasSeenNoRequest = true;
    put(work, signs.request, work.hasSeenNoRequest && requestPct >= thresholds.derateRequestPct);
  }
  followMode(work, reading);
  const ratio = followLimit(work, reading);
  if (work.openMs === 0 && work.on !== 0) {
    const fromLimit = (work.on & signs.limit) !== 0 ? work.lowFromMs : atMs;
    const fromMode = (work.on & signs.mode) !== 0 ? work.modeFromMs : atMs;
    work.openMs = Math.min(atMs, fromLimit, fromMode);
    // The minutes in which it was not yet believed.
    work.runMinutes = Math.round((atMs - work.openMs) / 60_000);
  }
  if (work.openMs !== 0) goOn(work, reading, ratio);
}

function put(work: Work, sign: number, isOn: boolean): void {
  work.on = isOn ? work.on | sign : work.on & ~sign;
}

function followMode(work: Work, { atMs, mode }: Reading): void {
  if (mode !== mode) return;
  if (mode !== limitingMode) {
    work.modeMinutes = 0;
    put(work, signs.mode, false);
    return;
  }
  if (work.modeMinutes === 0) work.modeFromMs = atMs;
  work.modeMinutes++;
  if (work.modeMinutes * minuteS >= work.config.thresholds.derateModeS) put(work, signs.mode, true);
}

/** Compares the limit with the usual one; returns their ratio, NaN where it is not known. */
function followLimit(work: Work, { atMs, limitPct, rpm }: Reading): number {
  const { derateTorqueRatio, derateTorqueClearRatio, derateHoldS, derateLearnS } = work.config.thresholds;
  const band = Math.floor((rpm - bands.fromRpm) / bands.widthRpm);
  if (!(limitPct > 0) || !(band >= 0 && band < bands.count)) return Number.NaN;
  const minutes = work.usualMinutes[band] as number;
  const usual = work.usualPct[band] as number;
  const isKnown = minutes * minuteS >= derateLearnS;
  const ratio = isKnown ? Math.min(1, limitPct / usual) : Number.NaN;
  if (ratio < 1 - derateTorqueRatio) {
    if (work.lowMinutes === 0) work.lowFromMs = atMs;
    work.lowMinutes++;
    work.lowRatios = [...work.lowRatios, rounded(ratio, 3)].slice(-3);
    if (work.lowMinutes * minuteS >= derateHoldS) put(work, signs.limit, true);
    return ratio;
  }
  if (isKnown && ratio >= 1 - derateTorqueClearRatio) {
    work.lowMinutes = 0;
    work.lowRatios = [];
    put(work, signs.limit, false);
  }
  // A derate is no part of the usual.
  if (work.on === 0 && work.openMs === 0) {
    const count = Math.min(pastMinutes, minutes + 1);
    work.usualMinutes[band] = count;
    work.usualPct[band] = rounded(usual + (limitPct - usual) / count, 3);
  }
  return ratio;
}

function goOn(work: Work, { atMs, severity, requestPct }: Reading, ratio: number): void {
  if (work.on === 0) {
    if (work.clearMinutes === 0) work.clearFromMs = atMs;
    work.clearMinutes++;
    if (work.clearMinutes * minuteS >= work.config.thresholds.derateClearS) {
      work.events.push(eventOf(work.config, work, work.clearFromMs));
      Object.assign(work, noDerate);
    }
    return;
  }
  work.clearMinutes = 0;
  work.seen |= work.on;
  work.runMinutes++;
  if (severity >= derateSeverity && severity <= severestSeverity)
    work.peakSeverity = Math.max(work.peakSeverity, severity);
  if (requestPct > work.mostRequestPct && (work.on & signs.request) !== 0) work.mostRequestPct = requestPct;
  const left = leftRatio(work, requestPct, ratio);
  if (left === left) {
    work.leastRatio = rounded(Math.min(work.leastRatio, left), 3);
    work.lostMinutes = rounded(work.lostMinutes + 1 - left, 3);
  }
}

/** Share of torque left by limit or request, the smaller; NaN when neither tells. */
function leftRatio(work: Work, requestPct: number, ratio: number): number {
  // One low minute among others is no limit: the best of the last three counts.
  const byLimit = ratio === ratio && work.lowRatios.length > 0 ? Math.max(...work.lowRatios) : Number.NaN;
  const byRequest = (work.on & signs.request) !== 0 && requestPct === requestPct ? 1 - requestPct / 100 : Number.NaN;
  if (byLimit !== byLimit) return byRequest;
  return byRequest !== byRequest ? byLimit : Math.min(byLimit, byRequest);
}

function eventOf(config: DetectorConfig, state: DerateState | Work, endedMs: number | null): DetectorEvent {
  const { seen, peakSeverity, leastRatio, mostRequestPct, runMinutes, lostMinutes, openMs } = state;
  const isPowerKnown = leastRatio < 1;
  const isSevere = peakSeverity >= severestSeverity || leastRatio <= severeTorqueRatio;
  return {
    kind: 'derate',
    startedMs: openMs,
    endedMs,
    severity: isSevere ? 'severe' : seen === signs.mode ? 'notice' : 'warning',
    values: {
      peakSeverity: (seen & signs.severity) === 0 ? null : peakSeverity,
      leastTorqueRatio: isPowerKnown ? leastRatio : null,
      mostRequestPct: (seen & signs.request) === 0 ? null : rounded(mostRequestPct, 1),
      lostPowerKW: isPowerKnown ? rounded((1 - leastRatio) * config.profile.ratedPowerKW, 1) : null,
      runningS: runMinutes * minuteS,
      lostS: isPowerKnown ? Math.round(lostMinutes * minuteS) : null,
    },
    evidence: {
      bySeverity: (seen & signs.severity) !== 0,
      byTorqueLimit: (seen & signs.limit) !== 0,
      byRequest: (seen & signs.request) !== 0,
      byTorqueMode: (seen & signs.mode) !== 0,
      ratedPowerKW: config.profile.ratedPowerKW,
    },
  };
}
