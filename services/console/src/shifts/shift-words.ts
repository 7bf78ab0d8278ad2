/** What a shift is told in. */

import type { InspectionItem, ShiftDocument } from '@warmbrick/contracts';
import { formatDuration } from '../format/duration.js';

/** What there is to look at, as a question that is answered with in order or not. */
export const inspectionWords: Readonly<Record<InspectionItem, { readonly name: string; readonly hint: string }>> = {
  'def-strainer': { name: 'DEF strainer', hint: 'In the neck, clean and undamaged.' },
  'def-can': {
    name: 'DEF can and funnel',
    hint: 'Clean; nothing but DEF was in them. DEF eats some metals: wipe up spills.',
  },
  'restriction-indicator': {
    name: 'Air filter indicator',
    hint: 'Read it at full load only; snow and rain can make it read high.',
  },
  'end-of-shift': {
    name: 'Look before the night',
    hint: 'Leaks, loose parts, DEF level for frost, nothing that can burn at the exhaust.',
  },
};

/** In the order of the page. */
export const inspectionItems = Object.keys(inspectionWords) as InspectionItem[];

type Start = ShiftDocument['starts'][number];
type Stop = ShiftDocument['stops'][number];

/** How a start went, in a few words. */
export function startWords({ grade, warmupS, wantedS }: Start): string {
  if (grade === 'good') return 'warmed up before load';
  if (grade === 'unseen') return 'already running when the record began';
  const idled = warmupS === null ? 'loaded early' : `loaded after ${formatDuration(warmupS)} of idling`;
  return wantedS === null ? idled : `${idled}, ${formatDuration(wantedS)} wanted`;
}

/** How a stop went, in a few words. */
export function stopWords({ grade, cooldownS, wantedS }: Stop): string {
  const idled = cooldownS === null ? null : formatDuration(cooldownS);
  switch (grade) {
    case 'good':
      return `cooled down for ${idled}`;
    case 'short':
      return `cooled down for ${idled}, ${formatDuration(wantedS)} wanted`;
    case 'hot':
      return idled === null ? 'switched off hot' : `switched off hot after ${idled} of cooling down`;
    case 'unknown':
      return 'not seen how';
  }
}

/** Whether a grade asks for a word with the operator. */
export function isPoor(grade: Start['grade'] | Stop['grade']): boolean {
  return grade === 'too-early-load' || grade === 'hot' || grade === 'short';
}
