/** The coolant thermometer, and the thermostat that it reads: stuck, never warm, or drifting from its own past. */

import type { DetectorConfig, DetectorEvent } from './detector.js';
import { rounded } from './figures.js';
import { firstAtOrAfter, markAfterMs, minuteMs } from './minute-marks.js';
import { firstRunningMode, modeCode, type ObservedBlock } from './observed-block.js';
import { noChanges, repeatOpenSensor, type SuspicionChange } from './suspicion.js';

/** Times in epoch ms, 0 for none. */
export interface CoolantSensorState {
  readonly markMs: number;
  readonly lastMs: number;
  /** Minutes of this run, and how long the engine had rested before it, ms; 0 when that is not known. */
  readonly runMinutes: number;
  readonly restMs: number;
  /** Lowest and highest reading of the run; loaded minutes in it. */
  readonly lowC: number;
  readonly highC: number;
  readonly loadedMinutes: number;
  /** At work: minutes, mean of an hour, mean of the own past. */
  readonly workMinutes: number;
  readonly fastC: number;
  readonly ownC: number;
  /** The finding that goes on, why, and what it read when it came up. */
  readonly openMs: number;
  readonly openWhy: number;
  readonly openC: number;
}

type Work = { -readonly [K in keyof CoolantSensorState]: CoolantSensorState[K] } & {
  readonly config: DetectorConfig;
  readonly events: DetectorEvent[];
  readonly changes: SuspicionChange[];
};

const channel = 'coolantTempC';
const whys = ['', 'stuck', 'cold-while-running', 'drifting'] as const;
const stuckWhy = 1;
const coldWhy = 2;
const driftWhy = 3;

/** A rest after which a sound engine shows that it warms, ms. Source: engineering judgement, two hours. */
const restedMs = 2 * 3_600_000;
/** Minutes in a row without any change that no thermostat gives under changing load. Source: engineering judgement, four hours. */
const motionlessMinutes = 240;
/** A reading that comes back by so much over the limit of a cold one is believed again, K. Source: engineering judgement. */
const warmAgainK = 10;
/** As with the exhaust: minutes of the fast mean, before anything is compared, and after which older ones fade. */
const fastMinutes = 60;
const pastMinutes = 180;
const rememberedMinutes = 2000;
/** Ids of findings stay apart from those of the other sensor detectors by these milliseconds. */
const apartMs = 40;

/**
 * Watches the coolant temperature once a minute while the engine runs.
 *
 * Stuck: after a rest of two hours exactly the same through `coolantStuckS` of running, or for four hours at a stretch. Cold: under
 * `coolantColdC` after `coolantWarmS` of loaded running: a thermometer that reads low or a thermostat that does not close.
 * Drifting: at work the mean of an hour is `coolantDriftK` away from the machine's own past, which a thermostat holds.
 * Missing: without coolant temperature nothing is said. Source: engineering judgement; engines run at 80-95 C, common practice.
 */
export const coolantSensorDetector = repeatOpenSensor<CoolantSensorState>({
  name: 'coolant-sensor',
  initial: () => ({
    markMs: 0,
    lastMs: 0,
    runMinutes: 0,
    restMs: 0,
    lowC: 0,
    highC: 0,
    loadedMinutes: 0,
    workMinutes: 0,
    fastC: 0,
    ownC: 0,
    openMs: 0,
    openWhy: 0,
    openC: 0,
  }),
  step: (config, state, block) => {
    let i = firstAtOrAfter(block.timeMs, { from: 0, to: block.count }, state.markMs);
    if (i >= block.count) return { state, events: [], changes: noChanges };
    const work: Work = { ...state, config, events: [], changes: [] };
    while (i < block.count) {
      const coolantC = block.coolantTempC[i] as number;
      if (coolantC !== coolantC || (block.mode[i] as number) < firstRunningMode) {
        // Only a running reading moves the mark, so that silence of any length costs nothing but the look.
        i++;
        continue;
      }
      read(work, block, { i, coolantC });
      work.markMs = markAfterMs(block.timeMs[i] as number);
      i = firstAtOrAfter(block.timeMs, { from: i, to: block.count }, work.markMs);
    }
    const { events, changes, config: _config, ...rest } = work;
    return { state: rest, events, changes };
  },
  open: (config, state) => (state.openWhy === 0 ? [] : [coolantEvent(config, state, null)]),
  suspicions: ({ openWhy }) => (openWhy === 0 ? [] : [{ reason: 'coolant', channel }]),
});

interface Reading {
  readonly i: number;
  readonly coolantC: number;
}

function read(work: Work, block: ObservedBlock, { i, coolantC }: Reading): void {
  const atMs = block.timeMs[i] as number;
  const sinceMs = work.lastMs === 0 ? 0 : atMs - work.lastMs;
  if (work.lastMs === 0 || sinceMs > work.config.thresholds.gapBridgeS * 1000) {
    work.runMinutes = 0;
    work.loadedMinutes = 0;
    work.restMs = sinceMs;
    work.lowC = coolantC;
    work.highC = coolantC;
  }
  work.lastMs = atMs;
  work.runMinutes++;
  if ((block.engineLoadPct[i] as number) >= work.config.profile.noLoadPct) work.loadedMinutes++;
  if (coolantC < work.lowC) work.lowC = coolantC;
  if (coolantC > work.highC) work.highC = coolantC;
  if (block.mode[i] === modeCode.working) followWork(work, coolantC);
  const why = whyNow(work, coolantC);
  if (work.openWhy === 0 && why !== 0) open(work, atMs, { why, coolantC });
  else if (work.openWhy !== 0 && isOver(work, coolantC)) close(work, atMs);
}

/** The past rests while a finding goes on. */
function followWork(work: Work, coolantC: number): void {
  work.workMinutes = Math.min(rememberedMinutes, work.workMinutes + 1);
  work.fastC = rounded(work.fastC + (coolantC - work.fastC) / Math.min(fastMinutes, work.workMinutes), 3);
  if (work.openWhy !== 0) return;
  const share = work.workMinutes <= pastMinutes ? 1 / work.workMinutes : 1 / rememberedMinutes;
  work.ownC = rounded(work.ownC + (coolantC - work.ownC) * share, 4);
}

function whyNow(work: Work, coolantC: number): number {
  const { coolantStuckS, coolantWarmS, coolantColdC, coolantDriftK } = work.config.thresholds;
  const ranMs = (work.runMinutes - 1) * minuteMs;
  if (work.lowC === work.highC) {
    const isRested = work.restMs >= restedMs && ranMs >= coolantStuckS * 1000;
    if (isRested || work.runMinutes > motionlessMinutes) return stuckWhy;
  }
  if (work.loadedMinutes * minuteMs >= coolantWarmS * 1000 && coolantC < coolantColdC) return coldWhy;
  return Math.abs(driftK(work)) >= coolantDriftK ? driftWhy : 0;
}

function driftK({ workMinutes, fastC, ownC }: CoolantSensorState): number {
  return workMinutes >= pastMinutes + fastMinutes ? fastC - ownC : 0;
}

function isOver(work: Work, coolantC: number): boolean {
  const { coolantColdC, coolantDriftK } = work.config.thresholds;
  if (work.openWhy === stuckWhy) return coolantC !== work.openC;
  if (work.openWhy === coldWhy) return coolantC >= coolantColdC + warmAgainK;
  return Math.abs(driftK(work)) < coolantDriftK / 2;
}

function open(work: Work, atMs: number, { why, coolantC }: { why: number; coolantC: number }): void {
  const ranMs = why === driftWhy ? 0 : (work.runMinutes - 1) * minuteMs;
  work.openMs = atMs - ranMs + apartMs;
  work.openWhy = why;
  work.openC = coolantC;
  work.changes.push({ reason: 'coolant', channel, atMs, isOn: true });
}

function close(work: Work, atMs: number): void {
  work.events.push(coolantEvent(work.config, work, atMs));
  work.openWhy = 0;
  work.openMs = 0;
  work.lowC = -1000;
  work.changes.push({ reason: 'coolant', channel, atMs, isOn: false });
}

function coolantEvent(config: DetectorConfig, state: CoolantSensorState | Work, endedMs: number | null): DetectorEvent {
  const { coolantStuckS, coolantWarmS, coolantColdC, coolantDriftK } = config.thresholds;
  return {
    kind: 'sensor-suspect',
    startedMs: state.openMs,
    endedMs,
    severity: endedMs === null ? 'warning' : 'notice',
    values: {
      channel,
      why: whys[state.openWhy] as string,
      tempC: rounded(state.openC, 1),
      differenceK: rounded(driftK(state), 1),
      limitK: coolantDriftK,
    },
    evidence: {
      limitS: state.openWhy === coldWhy ? coolantWarmS : coolantStuckS,
      coldC: coolantColdC,
      ownPastC: rounded(state.ownC, 1),
      loadedMinutes: state.loadedMinutes,
    },
  };
}
