/** Words of a sheet for codes, lamps, signs and levels. */

import type { DerateSign, InducementClass } from '@warmbrick/analysis';
import { inducementClassTexts } from '@warmbrick/analysis';
import type { HandoverCode, HandoverDerate } from '@warmbrick/contracts';

/** What told of a derate. Source: words of SAE J1939 signals, our own wording. */
export const signWords: Readonly<Record<DerateSign, string>> = {
  'inducement-severity': 'the controller broadcast an inducement',
  'torque-limit': 'the torque available was limited',
  'derate-request': 'another controller asked for less torque',
  'torque-mode': 'the torque was governed by a limit',
  'derate-code': 'a code says that power is reduced',
  'inducement-code': 'a code says that an inducement runs',
  'configured-code': "a code of the fleet's own table says so",
};

export const levelWords: Readonly<Record<HandoverDerate['level'], string>> = {
  unclear: 'how much is not known',
  low: 'most of the power was left',
  severe: 'half of the power or more was taken, or an inducement came to its last step',
};

/** A code's two parts in words, and whose words they are where they are not from the standard table. */
export function codeText({
  spnWords,
  fmiWords,
  wordsFrom,
}: Pick<HandoverCode, 'spnWords' | 'fmiWords' | 'wordsFrom'>): string {
  const whose = wordsFrom === 'fleet' ? " (fleet's own words)" : '';
  return `${spnWords}: ${fmiWords}${whose}`;
}

/** What a code can do: nothing said, a consequence, or the class of derate that it leads to. */
export function roleText({
  isConsequence,
  inducementClass,
}: Pick<HandoverCode, 'isConsequence' | 'inducementClass'>): string {
  if (isConsequence) return 'says that power is taken, not why';
  return inducementClass === null ? '' : `can take power: ${classText(inducementClass)}`;
}

export function classText(inducementClass: InducementClass): string {
  return inducementClassTexts[inducementClass];
}

/** Lamps that were on; "none" when all were off; "not said" otherwise. */
export function lampText(lamps: HandoverCode['lamps']): string {
  const names = { redStop: 'red stop', amberWarning: 'amber warning', malfunction: 'malfunction', protect: 'protect' };
  const on = (Object.keys(names) as (keyof typeof names)[])
    .filter((lamp) => lamps[lamp] === 'on')
    .map((lamp) => names[lamp]);
  if (on.length > 0) return on.join(', ');
  return Object.values(lamps).some((state) => state === 'off') ? 'none' : 'not said';
}

/** A likelihood in words beside its number. Source: engineering judgement. */
export function likelihoodText(ratio: number): string {
  const words = ratio >= 0.75 ? 'very likely' : ratio >= 0.5 ? 'likely' : ratio >= 0.2 ? 'possible' : 'unlikely';
  return `${words} (${Math.round(ratio * 100)} %)`;
}

/** How an occurrence ended. */
export function endText(time: HandoverCode['times'][number], written: (at: string) => string): string {
  if (time.isPreviouslyActiveOnly) return 'told as previously active';
  if (time.endedAt === null) return 'still active';
  return time.endedBy === 'unknown' ? `${written(time.endedAt)} (last told of)` : written(time.endedAt);
}
