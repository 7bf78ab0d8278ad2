/** What happened while nothing was heard: decided from engine hours, the next start, coolant and the length of the silence. */

import type { StopProof } from './observed-block.js';

export interface GapEvidence {
  /** From the last usable sample before to the first one after. */
  readonly elapsedS: number;
  readonly wasRunning: boolean;
  readonly isRunning: boolean;
  /** Engine hours gained since they were last heard, in seconds; null when not heard on both sides. */
  readonly ranS: number | null;
  /** Time over which they were gained. */
  readonly sinceHoursS: number;
  readonly coolantBeforeC: number | null;
  readonly coolantAfterC: number | null;
  readonly silentStopS: number;
}

export interface GapVerdict {
  /** The whole gap is proven to be engine-off. */
  readonly isOff: boolean;
  /** Proof that a running engine was stopped; null when it was not, or nothing says so. */
  readonly stop: StopProof | null;
  readonly isStopTimeKnown: boolean;
  readonly engineRan: boolean | null;
}

/** Two readings of a counter with steps of 0.05 h can hide this much. Source: SPN 247 resolution, twice. */
const hoursSlackS = 400;
/** The engine stood if at least this much of a gap is missing on the hour meter. Source: engineering judgement. */
const standS = 600;
/** Coolant of a running engine does not fall this far. Source: engineering judgement. */
const coolantFallK = 15;
/** A running engine with coolant below this has just been started. Source: engineering judgement. */
const freshStartCoolantC = 50;

/**
 * Weighs the evidence. A gap is off or running only where something proves it; silence alone ends a run but proves no mode.
 *
 * Source: design rule "unobserved: never idle, never off, unless engine hours or the next start prove which".
 */
export function resolveGap(evidence: GapEvidence): GapVerdict {
  return evidence.wasRunning ? resolveAfterRunning(evidence) : resolveAfterOff(evidence);
}

function resolveAfterRunning(evidence: GapEvidence): GapVerdict {
  const { ranS, sinceHoursS, elapsedS } = evidence;
  const ranUnseen = ranS !== null && ranS > hoursSlackS;
  const stood = ranS !== null && sinceHoursS - ranS > standS;
  if (!evidence.isRunning) {
    return { isOff: !ranUnseen, stop: 'next-start', isStopTimeKnown: !ranUnseen, engineRan: ranUnseen ? true : null };
  }
  if (stood) return { isOff: !ranUnseen, stop: 'engine-hours', isStopTimeKnown: !ranUnseen, engineRan: false };
  if (ranS !== null && elapsedS > hoursSlackS)
    return { isOff: false, stop: null, isStopTimeKnown: false, engineRan: true };
  if (coolantFell(evidence)) return { isOff: true, stop: 'coolant', isStopTimeKnown: true, engineRan: false };
  if (elapsedS >= evidence.silentStopS)
    return { isOff: false, stop: 'silence', isStopTimeKnown: true, engineRan: null };
  return { isOff: false, stop: null, isStopTimeKnown: false, engineRan: null };
}

function resolveAfterOff(evidence: GapEvidence): GapVerdict {
  const ranUnseen = evidence.ranS !== null && evidence.ranS > hoursSlackS;
  const isFresh = evidence.coolantAfterC !== null && evidence.coolantAfterC < freshStartCoolantC;
  const isOff = !ranUnseen && (!evidence.isRunning || evidence.ranS !== null || isFresh);
  return { isOff, stop: null, isStopTimeKnown: false, engineRan: ranUnseen ? true : null };
}

function coolantFell(evidence: GapEvidence): boolean {
  const { coolantBeforeC, coolantAfterC } = evidence;
  return coolantBeforeC !== null && coolantAfterC !== null && coolantBeforeC - coolantAfterC >= coolantFallK;
}
