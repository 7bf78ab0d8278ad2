/** The soot-risk score in words. */

/** From this score on a machine is worth watching, and from the next at risk. Source: engineering judgement. */
export const watchFrom = 30;
export const riskFrom = 60;

/** Confidence below which a score stands on little, and from which on enough, evidence. Source: engineering judgement. */
const littleBelowRatio = 0.5;
const goodFromRatio = 0.8;

export type RiskBand = 'low' | 'watch' | 'risk';

/** The band of a score. Range: 0-100. */
export function riskBand(value: number): RiskBand {
  if (value >= riskFrom) return 'risk';
  return value >= watchFrom ? 'watch' : 'low';
}

const bandWording: Readonly<Record<RiskBand, string>> = { low: 'low', watch: 'worth watching', risk: 'at risk' };

/** "low", "worth watching" or "at risk". */
export function bandWords(band: RiskBand): string {
  return bandWording[band];
}

export interface EvidenceWords {
  readonly words: string;
  readonly isLittle: boolean;
}

/** How much a score stands on. Range: 0-1. */
export function evidenceWords(confidenceRatio: number): EvidenceWords {
  if (confidenceRatio < littleBelowRatio) return { words: 'little evidence', isLittle: true };
  return { words: confidenceRatio < goodFromRatio ? 'fair evidence' : 'good evidence', isLittle: false };
}

export interface PartWords {
  readonly name: string;
  readonly meaning: string;
}

export type PartLook = (typeof partOrder)[number] | 'other';

const partWording: Readonly<Record<string, PartWords>> = {
  'soot-load': {
    name: 'Soot in the filter',
    meaning: 'Soot that the particulate filter holds and has not burnt off yet, against its limit.',
  },
  deposits: {
    name: 'Deposits',
    meaning: 'Urea that settled before the SCR catalyst and has not burnt off, now and at its worst of late.',
  },
  'cold-running': {
    name: 'Cold running',
    meaning: 'Running of late that was too cold to burn anything off: the colder, the sooner the limits come.',
  },
  idling: {
    name: 'Idling',
    meaning: 'Long stretches at idle: the exhaust cools, and nothing burns off what has gathered.',
  },
  'hot-stops': {
    name: 'Hot stops',
    meaning: 'Engine switched off without a cool-down: hard on the turbocharger, and DEF crystallises at the injector.',
  },
};

/** Order in which parts are drawn and listed; that of the score. */
export const partOrder = ['soot-load', 'deposits', 'cold-running', 'idling', 'hot-stops'] as const;

/** A part of the score in words. Missing: an unknown part is named by its code. */
export function partWords(part: string): PartWords {
  return partWording[part] ?? { name: part.replace(/-/g, ' '), meaning: '' };
}

/** Names of the parts that a score has: the known ones in their order, then any others. */
export function partNames(parts: Readonly<Record<string, number>>): string[] {
  const known: readonly string[] = partOrder;
  return [...known.filter((name) => name in parts), ...Object.keys(parts).filter((name) => !known.includes(name))];
}

/** How a part is drawn: by its own code, or as `other` when it is unknown here. */
export function partLook(part: string): PartLook {
  return partOrder.find((known) => known === part) ?? 'other';
}
