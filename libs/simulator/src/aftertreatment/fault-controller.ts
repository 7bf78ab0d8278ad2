/** The controller that watches the aftertreatment: fault codes, inducement, torque limit. */

import type { DerateCause, TruthEvent } from '../truth.js';
import type { InducementHours } from './options.js';
import type { Second } from './second.js';
import { type CodeName, confirmS, type Effect, effectOf, hasSymptom, type Symptoms, type Trouble } from './troubles.js';

export interface FaultController {
  readonly troubles: readonly Trouble[];
  /** Codes that are active now, in the order in which they came; replaced when they change. */
  active: readonly CodeName[];
  severity: number;
  torqueLimitPct: number;
  derate: OpenDerate | null;
  /** Running seconds since it last looked. */
  sinceLookS: number;
}

interface OpenDerate {
  readonly startedMs: number;
  readonly cause: DerateCause;
  readonly origin: CodeName;
  readonly originStartedMs: number;
  lowestTorquePct: number;
}

const causes: readonly DerateCause[] = [
  'def-level',
  'def-quality',
  'dosing',
  'frozen',
  'blockage',
  'conversion',
  'soot',
];

/** It looks this often, running s. Source: design decision. */
const lookS = 5;
/** A symptom that is gone for this long heals the trouble, s. Source: engineering judgement. */
const healS = 120;
/** Torque goes down by this at each look, %. Source: domain notes 7.2, 1 % a minute at least, from memory. */
const rampPct = lookS / 60;
/** The codes that say what is done, and never why. Source: domain notes, J1939 pairing of severity and failure mode. */
const inducementSpn = 5246;
const torqueDerate: CodeName = { spn: 1569, fmi: 31 };
const inducementFmi = [31, 15, 15, 16, 16, 0] as const;

export function createFaultController(): FaultController {
  return {
    troubles: causes.map((cause) => ({ cause, seenS: 0, heldS: null, startedMs: 0, firstCode: null })),
    active: [],
    severity: 0,
    torqueLimitPct: 100,
    derate: null,
    sinceLookS: 0,
  };
}

/** Whether it looks in this second; counts the running ones. */
export function isLookDue(controller: FaultController, second: Second): boolean {
  if (!second.isBurning) return false;
  controller.sinceLookS = (controller.sinceLookS + 1) % lookS;
  return controller.sinceLookS === 0;
}

/** One look; a derate that ended goes to the events. */
export function stepFaultController(
  controller: FaultController,
  second: Second,
  seen: { symptoms: Symptoms; hours: InducementHours; events: TruthEvent[] },
): void {
  let severity = 0;
  let limitPct = 100;
  let worst: Trouble | null = null;
  let isQuiet = true;
  const effects: Effect[] = [];
  for (const trouble of controller.troubles) {
    watch(trouble, second, seen.symptoms);
    if (trouble.heldS === null) continue;
    isQuiet = false;
    const effect = effectOf(trouble, seen.symptoms, seen.hours);
    effects.push(effect);
    trouble.firstCode ??= effect.codes[0] ?? null;
    severity = Math.max(severity, effect.severity);
    if (effect.torqueLimitPct < limitPct) {
      limitPct = effect.torqueLimitPct;
      worst = trouble;
    }
  }
  controller.severity = severity;
  const ramped = controller.torqueLimitPct - rampPct;
  controller.torqueLimitPct = limitPct < controller.torqueLimitPct ? Math.max(limitPct, ramped) : limitPct;
  if (!isQuiet || controller.active.length > 0) setCodes(controller, codesOf(effects, severity, limitPct));
  followDerate(controller, second, { worst, limitPct, events: seen.events });
}

function watch(trouble: Trouble, second: Second, symptoms: Symptoms): void {
  const isThere = hasSymptom(trouble.cause, symptoms);
  const fullS = confirmS[trouble.cause];
  if (trouble.heldS === null) {
    trouble.seenS = isThere ? trouble.seenS + lookS : Math.max(0, trouble.seenS - lookS);
    if (trouble.seenS < fullS) return;
    trouble.heldS = 0;
    trouble.seenS = healS;
    trouble.startedMs = second.timeMs;
    trouble.firstCode = null;
    return;
  }
  trouble.heldS += lookS;
  trouble.seenS = isThere ? healS : trouble.seenS - lookS;
  if (trouble.seenS > 0) return;
  trouble.heldS = null;
  trouble.seenS = 0;
}

function codesOf(effects: readonly Effect[], severity: number, limitPct: number): CodeName[] {
  const list = effects.flatMap((effect) => effect.codes);
  if (severity > 0) list.push({ spn: inducementSpn, fmi: inducementFmi[severity] ?? 31 });
  if (limitPct < 100) list.push(torqueDerate);
  return list;
}

/** Keeps the order of arrival: codes that go leave, new ones come behind. */
function setCodes(controller: FaultController, wanted: readonly CodeName[]): void {
  const has = (list: readonly CodeName[], code: CodeName) =>
    list.some(({ spn, fmi }) => spn === code.spn && fmi === code.fmi);
  const kept = controller.active.filter((code) => has(wanted, code));
  const added = wanted.filter((code, i) => !has(controller.active, code) && !has(wanted.slice(0, i), code));
  if (added.length > 0 || kept.length < controller.active.length) controller.active = [...kept, ...added];
}

function followDerate(
  controller: FaultController,
  second: Second,
  now: { worst: Trouble | null; limitPct: number; events: TruthEvent[] },
): void {
  const { worst } = now;
  if (controller.derate === null) {
    if (worst === null) return;
    const { startedMs: originStartedMs, cause } = worst;
    const origin = worst.firstCode as CodeName;
    controller.derate = { startedMs: second.timeMs, cause, origin, originStartedMs, lowestTorquePct: 100 };
  }
  const { derate } = controller;
  derate.lowestTorquePct = Math.min(derate.lowestTorquePct, controller.torqueLimitPct);
  if (now.limitPct < 100) return;
  now.events.push(endedDerate(derate, second.timeMs));
  controller.derate = null;
}

/** The derate as an event that ends at a time. */
export function endedDerate(derate: OpenDerate, endedMs: number): TruthEvent {
  const { startedMs, cause, origin, originStartedMs, lowestTorquePct } = derate;
  return { kind: 'derate', startedMs, endedMs, cause, origin, originStartedMs, lowestTorquePct };
}
