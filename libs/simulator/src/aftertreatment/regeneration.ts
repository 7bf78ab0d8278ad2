/** Active regeneration: when it is wanted, when it runs, and how it ends. */

import type { RegenerationEnd, TruthEvent } from '../truth.js';
import { noise } from './noise.js';
import type { Second } from './second.js';

export interface Regeneration {
  /** What the controller is off its aim, K. */
  wanderK: number;
  /** Aim behind the oxidation catalyst while it runs, degC; null while it does not. */
  targetTempC: number | null;
  startedMs: number;
  sootBeforePct: number;
  peakTempC: number;
  /** Seconds in a row that the oxidation catalyst was too cold to light fuel. */
  coldS: number;
  /** Not tried again before. */
  retryMs: number;
}

/** Aim, degC. Source: common practice, about 600. */
const targetSpanC = [585, 620] as const;
/** How the fuel doser hunts around it: deviation 6 K, memory 40 s. Source: engineering judgement. */
const wanderTauS = 40;
const wanderStepK = 6 * Math.sqrt(2 / wanderTauS);
/** Shortest and longest run, s, and the load at which it may end, %. Source: domain notes 2.2, 20-30 min at about 600 C, from memory. */
const shortestS = 1200;
const longestS = 1800;
const cleanSootPct = 22;
/** Load up to which one that ran its time counts as done, %. Source: design decision. */
const doneSootPct = 60;
/** Least coolant and inlet temperature to start, degC, and to keep the fuel burning. Source: engineering judgement. */
const leastCoolantC = 60;
const lightOffC = 210;
const keepC = 170;
/** Cold for so long, s, ends it; after any failure it waits so long, s. Source: engineering judgement. */
const longestColdS = 900;
const retryS = 900;

export function noRegeneration(): Regeneration {
  return { wanderK: 0, targetTempC: null, startedMs: 0, sootBeforePct: 0, peakTempC: 0, coldS: 0, retryMs: 0 };
}

/** One second of it; ended ones go to the events. */
export function stepRegeneration(
  regeneration: Regeneration,
  second: Second,
  seen: { isInhibited: boolean; events: TruthEvent[] },
): void {
  const { readings, timeMs } = second;
  const isWanted = readings.dpfSootPct >= 100;
  if (regeneration.targetTempC === null) {
    const canStart =
      second.isBurning &&
      !seen.isInhibited &&
      timeMs >= regeneration.retryMs &&
      readings.coolantTempC >= leastCoolantC &&
      readings.docInletTempC >= lightOffC;
    if (isWanted && canStart) begin(regeneration, second);
  } else {
    regeneration.wanderK += wanderStepK * noise(second.random) - regeneration.wanderK / wanderTauS;
    regeneration.peakTempC = Math.max(regeneration.peakTempC, readings.dpfOutletTempC);
    regeneration.coldS = readings.docInletTempC >= keepC ? 0 : regeneration.coldS + 1;
    const end = endOf(regeneration, second, seen.isInhibited);
    if (end !== null) finish(regeneration, second, { end, events: seen.events });
  }
  readings.activeRegenState = regeneration.targetTempC === null ? (isWanted ? 2 : 0) : 1;
  readings.regenInhibitedState = seen.isInhibited ? 1 : 0;
  readings.regenNeedState = needState(readings.dpfSootPct);
}

function begin(regeneration: Regeneration, { timeMs, readings, random }: Second): void {
  regeneration.targetTempC = random.between(targetSpanC[0], targetSpanC[1]);
  regeneration.startedMs = timeMs;
  regeneration.sootBeforePct = readings.dpfSootPct;
  regeneration.peakTempC = readings.dpfOutletTempC;
  regeneration.coldS = 0;
}

function endOf(regeneration: Regeneration, second: Second, isInhibited: boolean): RegenerationEnd | null {
  if (!second.isBurning) return 'key-off';
  if (isInhibited) return 'inhibited';
  if (regeneration.coldS >= longestColdS) return 'too-cold';
  const ranS = (second.timeMs - regeneration.startedMs) / 1000;
  const isClean = ranS >= shortestS && second.readings.dpfSootPct <= cleanSootPct;
  if (!isClean && ranS < longestS) return null;
  return second.readings.dpfSootPct <= doneSootPct ? 'complete' : 'time-out';
}

function finish(
  regeneration: Regeneration,
  { timeMs, readings }: Second,
  { end, events }: { end: RegenerationEnd; events: TruthEvent[] },
): void {
  events.push({
    kind: 'regeneration',
    startedMs: regeneration.startedMs,
    endedMs: timeMs,
    end,
    sootBeforePct: regeneration.sootBeforePct,
    sootAfterPct: readings.dpfSootPct,
    peakTempC: regeneration.peakTempC,
  });
  regeneration.targetTempC = null;
  if (end !== 'complete') regeneration.retryMs = timeMs + retryS * 1000;
}

function needState(sootPct: number): number {
  if (sootPct < 100) return 0;
  if (sootPct < 120) return 1;
  return sootPct < 145 ? 2 : 3;
}
