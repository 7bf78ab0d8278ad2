/** Exhaust temperatures against their neighbours over hours: one that drifts away, and two that are swapped. */

import type { DetectorConfig, DetectorEvent } from './detector.js';
import { rounded, roundedOrNull } from './figures.js';
import { firstAtOrAfter, markAfterMs } from './minute-marks.js';
import { firstRunningMode, modeCode, type ObservedBlock } from './observed-block.js';
import { noChanges, repeatOpenSensor, type Suspicion, type SuspicionChange } from './suspicion.js';

/**
 * Shapes: lists by the two differences, exhaust temperature and turbine outlet each over the SCR inlet. Times in epoch ms, 0 for
 * none. `fastK` follows a difference within an hour of work, `ownK` is what it was in the machine's own past.
 */
export interface SensorNeighboursState {
  readonly markMs: number;
  readonly lastMs: number;
  readonly minutes: readonly number[];
  readonly fastK: readonly number[];
  readonly ownK: readonly number[];
  /** The drifts that go on, by the channel they are put down to. */
  readonly driftMs: readonly number[];
  /**
   * SCR: minutes, middle of inlet and outlet a minute ago, and the sums over time, fading, of their difference times the
   * change of the middle, signed and unsigned.
   */
  readonly scrMinutes: number;
  readonly middleC: number;
  readonly lagSum: number;
  readonly lagSize: number;
  readonly swapMs: number;
}

type Work = {
  -readonly [K in keyof SensorNeighboursState]: SensorNeighboursState[K] extends readonly number[] ? number[] : number;
} & { readonly events: DetectorEvent[]; readonly changes: SuspicionChange[]; readonly config: DetectorConfig };

const channels = ['exhaustTempC', 'turbineOutTempC', 'scrInletTempC'] as const;
const scrInlet = 2;

/** Minutes of work that make the own past before anything is compared, and after which older ones fade. Source: judgement. */
const pastMinutes = 180;
const rememberedMinutes = 2000;
/** Minutes of work in the fast mean. Source: engineering judgement; duty changes within minutes. */
const fastMinutes = 60;
/** Fuel burnt in the oxidation catalyst heats the SCR inlet from here on, degC. Source: engineering judgement. */
const burningC = 450;
/** Minutes of running that the lag is told from, and share of agreement from which it is wrong or right. Source: judgement. */
const lagMinutes = 120;
const wrongShare = -0.5;
const rightShare = 0.2;
/** Least size of the sums, K2: below it nothing moved. Source: engineering judgement, about ten changes by 10 K at 10 K apart. */
const leastLagSize = 1000;
/** A silence after which a change of temperature is none, ms. Source: engineering judgement. */
const breakMs = 150_000;
/** Ids of findings stay apart from those of the other sensor detector by these milliseconds. */
const driftApartMs = 20;
const swapApartMs = 30;

/**
 * Compares neighbours once a minute while the engine runs.
 *
 * Drift: at work, the mean difference of an hour is `sensorDriftK` away from the machine's own past; until it is within half of
 * that. Of three sensors the one is meant that left both others; of two the exhaust temperature or the turbine outlet.
 * Swapped: an SCR outlet lags its inlet, so that the inlet is the hotter one while both rise and the colder one while both
 * fall. Over two hours the opposite is seen.
 * Missing: each needs its two channels. Source: engineering judgement; domain notes 5.3 for the lag of the brick.
 */
export const sensorNeighboursDetector = repeatOpenSensor<SensorNeighboursState>({
  name: 'sensor-neighbours',
  initial: () => ({
    markMs: 0,
    lastMs: 0,
    minutes: [0, 0],
    fastK: [0, 0],
    ownK: [0, 0],
    driftMs: [0, 0, 0],
    scrMinutes: 0,
    middleC: 0,
    lagSum: 0,
    lagSize: 0,
    swapMs: 0,
  }),
  step: (config, state, block) => {
    const inlet = block.further.scrInletTempC;
    if (inlet === undefined) return { state, events: [], changes: noChanges };
    let i = firstAtOrAfter(block.timeMs, { from: 0, to: block.count }, state.markMs);
    if (i >= block.count) return { state, events: [], changes: noChanges };
    const work: Work = {
      ...state,
      minutes: [...state.minutes],
      fastK: [...state.fastK],
      ownK: [...state.ownK],
      driftMs: [...state.driftMs],
      events: [],
      changes: [],
      config,
    };
    while (i < block.count) {
      const inletC = inlet[i] as number;
      if (inletC !== inletC) {
        // Only a reading moves the mark, so that a block without the channel is the same as one without values.
        i++;
        continue;
      }
      if ((block.mode[i] as number) >= firstRunningMode) read(work, block, { i, inletC });
      work.markMs = markAfterMs(block.timeMs[i] as number);
      i = firstAtOrAfter(block.timeMs, { from: i, to: block.count }, work.markMs);
    }
    const { events, changes, config: _config, ...rest } = work;
    return { state: rest, events, changes };
  },
  open: (config, state) => {
    const events: DetectorEvent[] = [];
    state.driftMs.forEach((driftMs, channel) => {
      if (driftMs !== 0) events.push(driftEvent(config, state, { channel, endedMs: null }));
    });
    if (state.swapMs !== 0) events.push(swapEvent(state, null));
    return events;
  },
  suspicions: (state) => [
    ...state.driftMs.flatMap((driftMs, channel) => (driftMs === 0 ? [] : [driftSuspicion(channel)])),
    ...(state.swapMs === 0 ? [] : [swapSuspicion]),
  ],
});

function driftSuspicion(channel: number): Suspicion {
  return { reason: `drift ${channel}`, channel: channels[channel] as string };
}

const swapSuspicion: Suspicion = { reason: 'swap', channel: channels[scrInlet] };

interface Reading {
  readonly i: number;
  readonly inletC: number;
}

function read(work: Work, block: ObservedBlock, at: Reading): void {
  const { i, inletC } = at;
  const { turbineOutTempC, scrOutletTempC, activeRegenState } = block.further;
  const atMs = block.timeMs[i] as number;
  const isFollowing = atMs - work.lastMs <= breakMs;
  work.lastMs = atMs;
  followLag(work, { atMs, inletC, outletC: scrOutletTempC?.[i] ?? Number.NaN, isFollowing });
  if (block.mode[i] !== modeCode.working || inletC >= burningC || activeRegenState?.[i] === 1) return;
  const exhaustC = block.exhaustSource[i] === 0 ? (block.exhaustTempC[i] as number) : Number.NaN;
  follow(work, 0, exhaustC - inletC);
  follow(work, 1, (turbineOutTempC?.[i] ?? Number.NaN) - inletC);
  judgeDrift(work, atMs);
}

/** Takes one difference into its hour and its past. The past rests while one of its two drifts. */
function follow(work: Work, p: number, offK: number): void {
  if (offK !== offK) return;
  const minutes = (work.minutes[p] as number) + 1;
  const fast = work.fastK[p] as number;
  const own = work.ownK[p] as number;
  work.minutes[p] = Math.min(rememberedMinutes, minutes);
  work.fastK[p] = rounded(fast + (offK - fast) / Math.min(fastMinutes, minutes), 3);
  if (work.driftMs[p] !== 0 || work.driftMs[scrInlet] !== 0) return;
  const share = minutes <= pastMinutes ? 1 / minutes : 1 / rememberedMinutes;
  work.ownK[p] = rounded(own + (offK - own) * share, 4);
}

function driftK(work: SensorNeighboursState | Work, p: number): number {
  const isKnown = (work.minutes[p] as number) >= pastMinutes + fastMinutes;
  return isKnown ? (work.fastK[p] as number) - (work.ownK[p] as number) : Number.NaN;
}

/** Both differences gone the same way at once: their common sensor. Each by itself: its own. */
function judgeDrift(work: Work, atMs: number): void {
  const limitK = work.config.thresholds.sensorDriftK;
  const offK = [driftK(work, 0), driftK(work, 1)] as const;
  const isOff = offK.map((k) => Math.abs(k) >= limitK);
  const isNearlyOff = offK.map((k) => !(Math.abs(k) < limitK / 2));
  const isWithin = offK.map((k) => !(Math.abs(k) >= limitK / 2));
  const isAlone = work.driftMs.every((driftMs) => driftMs === 0);
  const isBoth = isAlone && isNearlyOff[0] && isNearlyOff[1] && offK[0] * offK[1] > 0;
  if (work.driftMs[scrInlet] !== 0) {
    if (isWithin[0] && isWithin[1]) endDrift(work, scrInlet, atMs);
    return;
  }
  if (isBoth && (isOff[0] || isOff[1])) {
    beginDrift(work, scrInlet, atMs);
    return;
  }
  for (const p of [0, 1]) {
    if (work.driftMs[p] === 0) {
      if (isOff[p]) beginDrift(work, p, atMs);
    } else if (isWithin[p]) endDrift(work, p, atMs);
  }
}

function beginDrift(work: Work, channel: number, atMs: number): void {
  work.driftMs[channel] = atMs + driftApartMs + channel;
  work.changes.push({ ...driftSuspicion(channel), atMs, isOn: true });
}

function endDrift(work: Work, channel: number, atMs: number): void {
  work.events.push(driftEvent(work.config, work, { channel, endedMs: atMs }));
  work.driftMs[channel] = 0;
  work.changes.push({ ...driftSuspicion(channel), atMs, isOn: false });
}

/** The brick delays: which of two sensors is behind the other shows in how their difference goes with the change of both. */
function followLag(work: Work, at: { atMs: number; inletC: number; outletC: number; isFollowing: boolean }): void {
  const { atMs, inletC, outletC } = at;
  if (outletC !== outletC) return;
  const middleC = (inletC + outletC) / 2;
  const product = at.isFollowing && work.scrMinutes > 0 ? (inletC - outletC) * (middleC - work.middleC) : 0;
  const fading = 1 - 1 / lagMinutes;
  work.lagSum = rounded(work.lagSum * fading + product, 3);
  work.lagSize = rounded(work.lagSize * fading + Math.abs(product), 3);
  work.middleC = middleC;
  work.scrMinutes = Math.min(rememberedMinutes, work.scrMinutes + 1);
  if (work.scrMinutes < lagMinutes || work.lagSize < leastLagSize) return;
  const share = work.lagSum / work.lagSize;
  if (work.swapMs === 0) {
    if (share > wrongShare) return;
    work.swapMs = atMs + swapApartMs;
    work.changes.push({ ...swapSuspicion, atMs, isOn: true });
  } else if (share >= rightShare) {
    work.events.push(swapEvent(work, atMs));
    work.changes.push({ ...swapSuspicion, atMs, isOn: false });
    work.swapMs = 0;
  }
}

function driftEvent(
  config: DetectorConfig,
  work: SensorNeighboursState | Work,
  at: { channel: number; endedMs: number | null },
): DetectorEvent {
  const { channel, endedMs } = at;
  const exhaustK = driftK(work, 0);
  const turbineK = driftK(work, 1);
  const own = channel === 1 ? turbineK : channel === 0 ? exhaustK : -exhaustK;
  return {
    kind: 'sensor-suspect',
    startedMs: work.driftMs[channel] as number,
    endedMs,
    severity: endedMs === null ? 'warning' : 'notice',
    values: {
      channel: channels[channel] as string,
      why: 'drifting',
      differenceK: roundedOrNull(own, 1),
      limitK: config.thresholds.sensorDriftK,
    },
    evidence: {
      exhaustOverScrInletK: roundedOrNull(exhaustK, 1),
      turbineOverScrInletK: roundedOrNull(turbineK, 1),
    },
  };
}

function swapEvent(work: SensorNeighboursState | Work, endedMs: number | null): DetectorEvent {
  return {
    kind: 'sensor-suspect',
    startedMs: work.swapMs,
    endedMs,
    severity: endedMs === null ? 'warning' : 'notice',
    values: {
      channel: 'scrInletTempC',
      why: 'lags-behind-scr-outlet',
      agreementRatio: rounded(work.lagSum / work.lagSize, 2),
    },
    evidence: { neighbour: 'scrOutletTempC', wrongRatio: wrongShare, minutes: work.scrMinutes },
  };
}
