/** From what really happened to what the analysis ought to find: claims, each with the time in which it could be seen. */

import { frostAdvice } from '@warmbrick/aftertreatment';
import type { SampleBlock } from '@warmbrick/signals';
import type { SimulatedChannel, SimulatedMachine, TruthEvent } from '@warmbrick/simulator';
import { ambientAtMs, type Coverage } from './coverage.js';

/** Kinds of finding that there is truth for. */
export const scoredKinds = [
  'engine-run',
  'idle-streak',
  'hot-shutdown',
  'early-load',
  'data-gap',
  'cold-start',
  'regeneration',
  'regeneration-inhibited',
  'def-fill',
  'def-drop',
  'def-low',
  'def-quality',
  'def-frost',
  'nox-conversion',
  'air-filter',
  'sensor-suspect',
  'derate',
] as const;
export type ScoredKind = (typeof scoredKinds)[number];

/** `required` has to be found; `allowed` is too short, too faint or too near a limit: finding it is no false alarm. */
type Weight = 'required' | 'allowed';

export interface Claim {
  readonly kind: ScoredKind;
  readonly startedMs: number;
  readonly endedMs: number;
  readonly weight: Weight;
  /** Any of these has to be the finding's channel; not given: not compared. */
  readonly channels?: readonly string[];
}

export interface Lived {
  readonly machine: SimulatedMachine;
  readonly blocks: readonly SampleBlock[];
  readonly coverage: Coverage;
  readonly truth: readonly TruthEvent[];
  readonly startMs: number;
  readonly endMs: number;
}

/** Without the channel nobody can find it. */
const needed: Readonly<Partial<Record<ScoredKind, SimulatedChannel>>> = {
  'early-load': 'coolantTempC',
  'cold-start': 'coolantTempC',
  regeneration: 'activeRegenState',
  'regeneration-inhibited': 'activeRegenState',
  'def-fill': 'defLevelPct',
  'def-drop': 'defLevelPct',
  'def-low': 'defLevelPct',
  'def-quality': 'defConcentrationPct',
  'def-frost': 'defLevelPct',
  'nox-conversion': 'noxOutPpm',
  'air-filter': 'airFilterDeltaPressureKPa',
  derate: 'torqueLimitPct',
};

const lasting: readonly ScoredKind[] = ['def-low', 'def-quality', 'air-filter', 'sensor-suspect', 'derate'];
const needsBefore: readonly ScoredKind[] = ['def-fill', 'def-drop'];
const needsAfter: readonly ScoredKind[] = ['hot-shutdown', 'def-frost', 'def-fill', 'def-drop'];

/** Running time that has to be seen before something slow has to be found, s. Source: engineering judgement. */
const enough = {
  regenerationS: 300,
  lowS: 1800,
  qualityS: 3600,
  airFilterS: 4 * 3600,
  noxS: 3 * 3600,
  sensorS: 3 * 3600,
  // Torque goes by 1 % a minute, and the usual torque has to be known first.
  derateS: 3600,
  deratePastS: 3 * 3600,
};
/** A catalyst is compared with its own past, which takes this much running, s. */
const noxPastS = 8 * 3600;
const shortestGapS = 300;
/** Waits of a regeneration that have to be found and that may be, running s. Around half an hour inhibited and an hour in all. */
const wait = { inhibitedS: 2400, allowedInhibitedS: 1200, runningS: 4500, allowedRunningS: 2700 };
/** Urea is clearly wrong outside of this, and wrong outside of ISO 22241-1. Source: sensors are good to 1-2 %, from memory. */
const clearUrea = { low: 0.295, high: 0.355 };
/** Drift that stands out of a train's own spread, K. Source: engineering judgement. */
const clearDriftK = 50;
/** Around the limits of the frost advice: % points, K. */
const frostDoubt = { levelPct: 3, tempK: 2 };
/** The advice is given with this margin, and not again within this time. Source: documentation of the finding. */
const frostMarginK = 3;
const frostAgainMs = 4 * 3_600_000;

/** Everything that a machine's truth claims, in order of time. */
export function claimsOf(lived: Lived): Claim[] {
  const claims = lived.truth.flatMap((event) => claimsOfEvent(event, lived));
  const seen = claims.map((claim) => weighed(claim, lived)).filter((claim) => claim !== null);
  return withoutHiddenDrops(withoutRepeatedFrost(seen.sort((a, b) => a.startedMs - b.startedMs)), lived.coverage);
}

/** A loss and a fill in one silence show only as what is left of both. */
function withoutHiddenDrops(claims: readonly Claim[], coverage: Coverage): Claim[] {
  const silence = ({ startedMs }: Claim) => coverage.nextSampleMs(startedMs);
  const filled = claims.filter(({ kind }) => kind === 'def-fill').map(silence);
  const dropped = claims.filter(({ kind }) => kind === 'def-drop').map(silence);
  return claims.map((claim) => {
    const other = claim.kind === 'def-drop' ? filled : claim.kind === 'def-fill' ? dropped : [];
    return other.includes(silence(claim)) ? { ...claim, weight: 'allowed' } : claim;
  });
}

/** What nobody could have seen, or not whole, need not be found. */
function weighed(claim: Claim, { machine, coverage, startMs, endMs }: Lived): Claim | null {
  if (claim.endedMs < startMs) return null;
  const channel = needed[claim.kind];
  const faulty = (machine.sensorFaults ?? []).some((fault) => fault.channel === channel);
  const isBlind = channel !== undefined && (!machine.channels.includes(channel) || faulty);
  // What lasts and began before the samples did counts from their first; of what passes, the start was not seen.
  const isOlder = claim.startedMs < startMs;
  const isEdge = (isOlder && !lasting.includes(claim.kind)) || claim.startedMs > endMs - 120_000;
  const isSilent =
    !needsBefore.includes(claim.kind) &&
    coverage.seenRunningS(claim.startedMs - 3_600_000, claim.endedMs + 3_600_000) === 0;
  // What shows only against the samples before it, or only in those after it.
  const isUnseen =
    (needsBefore.includes(claim.kind) && coverage.lastSampleMs(claim.startedMs) === null) ||
    (needsAfter.includes(claim.kind) && coverage.nextSampleMs(claim.startedMs) === null);
  const dated = isOlder ? { ...claim, startedMs: startMs } : claim;
  return isBlind || isEdge || isSilent || isUnseen ? { ...dated, weight: 'allowed' } : dated;
}

function claimsOfEvent(event: TruthEvent, lived: Lived): Claim[] {
  const { startedMs, endedMs } = event;
  const runningS = lived.coverage.seenRunningS(startedMs, endedMs);
  const claim = (kind: ScoredKind, isClear: boolean, more: Partial<Claim> = {}): Claim[] => [
    { kind, startedMs, endedMs, weight: isClear ? 'required' : 'allowed', ...more },
  ];
  switch (event.kind) {
    case 'engine-run':
      return [...claim('engine-run', runningS > 0), ...coldStart(event, lived)];
    case 'idle-streak':
      return event.durationS < 3300 ? [] : claim('idle-streak', event.durationS > 3660 && runningS > 3660);
    case 'stop':
      return event.grade === 'cool' ? nearlyHot(event) : claim('hot-shutdown', isClearlyHot(event));
    case 'early-load':
      return claim('early-load', true);
    case 'gap':
      return event.isRunning && event.durationS > 240 ? claim('data-gap', event.durationS > shortestGapS + 10) : [];
    case 'regeneration':
      return claim('regeneration', runningS >= enough.regenerationS);
    case 'regeneration-wait':
      return waited(event.runningS, event.inhibitedS, claim);
    case 'def-fill':
      return claim('def-fill', event.levelAfterPct - event.levelBeforePct > 8);
    case 'def-drop':
      return claim('def-drop', true);
    case 'def-low':
      return claim('def-low', runningS >= enough.lowS);
    case 'def-quality': {
      const isClear = event.ureaRatio < clearUrea.low || event.ureaRatio > clearUrea.high;
      return claim('def-quality', isClear && runningS >= enough.qualityS);
    }
    case 'def-parked':
      return frost(event, claim);
    case 'nox-loss': {
      const pastS = lived.coverage.seenRunningS(lived.startMs, startedMs);
      return claim('nox-conversion', pastS >= noxPastS && runningS >= enough.noxS);
    }
    case 'air-filter':
      return claim('air-filter', event.usedRatio >= 1 && runningS >= enough.airFilterS);
    case 'derate': {
      const pastS = lived.coverage.seenRunningS(lived.startMs, startedMs);
      const isClear = event.lowestTorquePct <= 80 && runningS >= enough.derateS && pastS >= enough.deratePastS;
      return claim('derate', isClear);
    }
    case 'sensor-fault':
      return sensor(event, lived, runningS);
    default:
      return [];
  }
}

type Make = (kind: ScoredKind, isClear: boolean, more?: Partial<Claim>) => Claim[];
type Kind<K extends TruthEvent['kind']> = Extract<TruthEvent, { kind: K }>;

/** A start in frost: air below nought and a cold engine at the first running second. */
function coldStart(event: Kind<'engine-run'>, lived: Lived): Claim[] {
  const airC = ambientAtMs(lived.blocks, event.startedMs);
  const { startedMs, coolantAtStartC } = event;
  if (!(airC < 1.5 && coolantAtStartC < 55)) return [];
  const isClear = airC < -1 && coolantAtStartC < 45;
  return [{ kind: 'cold-start', startedMs, endedMs: startedMs, weight: isClear ? 'required' : 'allowed' }];
}

/** Within these of a limit a stop may be judged either way. Source: engineering judgement, a model of the turbine is off by that. */
const stopDoubt = { coolDownS: 15, metalK: 40 };

function isClearlyHot(event: Kind<'stop'>): boolean {
  return (event.coolDownS ?? 300) < 300 - stopDoubt.coolDownS && (event.metalAtLoadC ?? 0) > 200 + stopDoubt.metalK;
}

function nearlyHot(event: Kind<'stop'>): Claim[] {
  const isNear =
    (event.coolDownS ?? 1e9) < 300 + stopDoubt.coolDownS && (event.metalAtLoadC ?? 0) > 200 - stopDoubt.metalK;
  const { startedMs, endedMs } = event;
  return isNear ? [{ kind: 'hot-shutdown', startedMs, endedMs, weight: 'allowed' }] : [];
}

function waited(runningS: number, inhibitedS: number, claim: Make): Claim[] {
  const isClear = inhibitedS >= wait.inhibitedS || runningS >= wait.runningS;
  const isAllowed = inhibitedS >= wait.allowedInhibitedS || runningS >= wait.allowedRunningS;
  return isAllowed ? claim('regeneration-inhibited', isClear) : [];
}

function frost(event: Kind<'def-parked'>, claim: Make): Claim[] {
  const coldestC = Math.min(event.tankTempC, event.airTempC) - frostMarginK;
  const at = (levelPct: number, tempC: number) => frostAdvice(levelPct / 100, tempC);
  const wanted = ['burst-risk', 'too-low', 'fuller-than-needed'];
  const around = [-1, 0, 1].flatMap((side) =>
    [-1, 0, 1].map((cold) => at(event.levelPct + side * frostDoubt.levelPct, coldestC + cold * frostDoubt.tempK)),
  );
  if (!around.some((advice) => wanted.includes(advice))) return [];
  // The level of a frozen tank is not measured.
  return claim('def-frost', new Set(around).size === 1 && event.tankTempC > -11);
}

/** The same advice is not given again within hours. */
function withoutRepeatedFrost(claims: readonly Claim[]): Claim[] {
  let lastMs = Number.NEGATIVE_INFINITY;
  return claims.map((claim) => {
    if (claim.kind !== 'def-frost') return claim;
    const isAgain = claim.startedMs - lastMs < frostAgainMs;
    if (!isAgain) lastMs = claim.startedMs;
    return isAgain ? { ...claim, weight: 'allowed' } : claim;
  });
}

function sensor(event: Kind<'sensor-fault'>, lived: Lived, runningS: number): Claim[] {
  const { channel, fault, startedMs, endedMs } = event;
  const own = (lived.machine.sensorFaults ?? []).find((one) => one.channel === channel && one.kind === fault);
  const driftK = ((own?.perHour ?? 0) * (endedMs - startedMs)) / 3_600_000;
  const isSent = lived.machine.channels.some((name) => name === channel);
  const isLying = fault === 'stuck' || fault === 'swapped' || (fault === 'drift' && driftK >= clearDriftK);
  const isClear = isSent && isLying && runningS >= enough.sensorS;
  const channels = own?.with === undefined ? [channel] : [channel, own.with];
  return [{ kind: 'sensor-suspect', startedMs, endedMs, weight: isClear ? 'required' : 'allowed', channels }];
}
