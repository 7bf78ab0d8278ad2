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

const partWording: Readonly<Record<string, PartWords>> = {
  'cold-running': {
    name: 'Cold running',
    meaning:
      'Hours with the engine on and the catalyst below its window: soot collects and dosed urea leaves deposits.',
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

/** Order in which parts are drawn and listed. */
export const partOrder = ['cold-running', 'idling', 'hot-stops'] as const;

/** A part of the score in words. Missing: an unknown part is named by its code. */
export function partWords(part: string): PartWords {
  return partWording[part] ?? { name: part.replace(/-/g, ' '), meaning: '' };
}
