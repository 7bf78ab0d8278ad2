/** What can go wrong with an aftertreatment system, and how far each thing has gone: from a warning to a derate. */

import type { FaultCode } from '@warmbrick/signals';
import type { DerateCause } from '../truth.js';
import type { InducementHours } from './options.js';

export type CodeName = Pick<FaultCode, 'spn' | 'fmi'>;

/** What the controller sees of the machine each second. */
export interface Symptoms {
  readonly isBurning: boolean;
  readonly defLevelPct: number;
  readonly isDefEmpty: boolean;
  readonly ureaRatio: number;
  readonly isDefFrozen: boolean;
  readonly isHeaterDead: boolean;
  /** DEF is asked for and does not come. */
  readonly isDosingFailing: boolean;
  readonly isBlocked: boolean;
  /** The catalyst is hot and converts far less than it should. */
  readonly isConversionLow: boolean;
  readonly sootPct: number;
}

/** A trouble that is being watched; mutable. */
export interface Trouble {
  readonly cause: DerateCause;
  /** Running seconds for which the symptom has been there, at most `confirmS`. */
  seenS: number;
  /** Running seconds since it was confirmed; null while it is not. */
  heldS: number | null;
  startedMs: number;
  /** What it was first reported as. */
  firstCode: CodeName | null;
}

/** Severity of SPN 5246 and torque left, %, of a trouble now. */
export interface Effect {
  readonly severity: number;
  readonly torqueLimitPct: number;
  readonly codes: readonly CodeName[];
}

/** Source: SAE J1939 names in the domain notes; which failure mode a maker picks is engineering judgement. */
const codes = {
  levelLow: { spn: 1761, fmi: 17 },
  levelVeryLow: { spn: 1761, fmi: 18 },
  levelEmpty: { spn: 1761, fmi: 1 },
  quality: { spn: 3516, fmi: 18 },
  dosing: { spn: 4334, fmi: 18 },
  blocked: { spn: 4334, fmi: 16 },
  heater: { spn: 3363, fmi: 5 },
  frozen: { spn: 3031, fmi: 1 },
  conversion: { spn: 4364, fmi: 18 },
  sootHigh: { spn: 3719, fmi: 15 },
  sootVeryHigh: { spn: 3719, fmi: 16 },
  sootExtreme: { spn: 3719, fmi: 0 },
} as const satisfies Record<string, CodeName>;

/** Levels of warning, second warning and low-level inducement, %. Source: domain notes 7.2, 10 and 2.5 % from memory. */
const levelWarnPct = 10;
const levelSecondPct = 5;
const levelInducePct = 2.5;
/** DEF below this urea share is not accepted. Source: engineering judgement. */
const leastUreaRatio = 0.28;
/** Dosing has to work within this time of running in frost, s. Source: domain notes 1.1, 70 min from memory. */
const thawS = 4200;
/** Catalyst and tampering hours. Source: domain notes 7.2, 36 and 100 h from memory. */
const conversionHours: InducementHours = [36, 100];
/** Soot at which a warning, 25 % and 50 % of the torque go, %. Source: engineering judgement. */
const sootSteps = [125, 150, 175] as const;
/** Torque left at low-level and severe inducement, %. Source: domain notes 7.2, from memory. */
const lowTorquePct = 75;
const severeTorquePct = 50;

/** How long a symptom has to be there before it is believed, running s. Source: engineering judgement. */
export const confirmS: Readonly<Record<DerateCause, number>> = {
  'def-level': 30,
  'def-quality': 600,
  dosing: 600,
  frozen: thawS,
  blockage: 900,
  conversion: 2700,
  soot: 60,
};

/** Whether the symptom of a trouble is there. */
export function hasSymptom(cause: DerateCause, seen: Symptoms): boolean {
  switch (cause) {
    case 'def-level':
      return seen.defLevelPct < levelWarnPct;
    case 'def-quality':
      return seen.ureaRatio < leastUreaRatio;
    case 'dosing':
      return seen.isDosingFailing && !seen.isDefFrozen && !seen.isDefEmpty;
    case 'frozen':
      return seen.isDefFrozen;
    case 'blockage':
      return seen.isBlocked;
    case 'conversion':
      return seen.isConversionLow && !seen.isDefFrozen;
    case 'soot':
      return seen.sootPct >= sootSteps[0];
  }
}

/** What a confirmed trouble does now. */
export function effectOf(trouble: Trouble, seen: Symptoms, hours: InducementHours): Effect {
  const heldH = (trouble.heldS ?? 0) / 3600;
  switch (trouble.cause) {
    case 'def-level':
      return levelEffect(seen);
    case 'def-quality':
      return byHours(heldH, hours, [codes.quality]);
    case 'dosing':
      return byHours(heldH, hours, [codes.dosing]);
    case 'frozen':
      return byHours(heldH, hours, seen.isHeaterDead ? [codes.heater, codes.frozen] : [codes.frozen]);
    case 'blockage':
      return byHours(heldH, hours, [codes.blocked]);
    case 'conversion':
      return byHours(heldH, conversionHours, [codes.conversion]);
    case 'soot':
      return sootEffect(seen.sootPct);
  }
}

function levelEffect({ defLevelPct, isDefEmpty }: Symptoms): Effect {
  if (isDefEmpty) return effect(5, [codes.levelEmpty]);
  if (defLevelPct < levelInducePct) return effect(3, [codes.levelVeryLow]);
  return effect(defLevelPct < levelSecondPct ? 2 : 1, [codes.levelLow]);
}

function byHours(heldH: number, [lowH, severeH]: InducementHours, list: readonly CodeName[]): Effect {
  if (heldH >= severeH) return effect(5, list);
  if (heldH >= lowH) return effect(heldH >= 0.9 * severeH ? 4 : 3, list);
  return effect(heldH >= lowH / 2 ? 2 : 1, list);
}

function effect(severity: number, list: readonly CodeName[]): Effect {
  const torqueLimitPct = severity >= 5 ? severeTorquePct : severity >= 3 ? lowTorquePct : 100;
  return { severity, torqueLimitPct, codes: list };
}

/** Soot protects the filter and the engine: it takes torque without any inducement. */
function sootEffect(sootPct: number): Effect {
  const [, low, severe] = sootSteps;
  if (sootPct >= severe) return { severity: 0, torqueLimitPct: severeTorquePct, codes: [codes.sootExtreme] };
  if (sootPct >= low) return { severity: 0, torqueLimitPct: lowTorquePct, codes: [codes.sootVeryHigh] };
  return { severity: 0, torqueLimitPct: 100, codes: [codes.sootHigh] };
}
