/** Words of the derate page. */

import type { DerateDetail, DerateItem, FaultLine, InducementClockDocument } from '@warmbrick/contracts';
import { formatDuration } from '../format/duration.js';
import { formatNumber } from '../format/unit-system.js';

type Sign = DerateItem['signs'][number];
type InducementClass = NonNullable<DerateItem['saidClass']>;

const signs: Readonly<Record<Sign, string>> = {
  'inducement-severity': 'the controller broadcast an inducement',
  'torque-limit': 'the torque available was limited',
  'derate-request': 'another controller asked for less torque',
  'torque-mode': 'the torque was governed by a limit',
  'derate-code': 'a code says that power is reduced',
  'inducement-code': 'a code says that an inducement runs',
  'configured-code': 'a code of the fleet’s own table says so',
};

const classes: Readonly<Record<InducementClass, string>> = {
  level: 'DEF level',
  quality: 'DEF quality',
  dosing: 'DEF dosing interrupted',
  tampering: 'monitoring of the NOx control fails',
  egr: 'EGR impeded',
  soot: 'particulate filter loaded',
  protection: 'engine protection',
  other: 'other',
};

const levels: Readonly<Record<DerateItem['level'], string>> = {
  unclear: 'how much is not known',
  low: 'most of the power was left',
  severe: 'half of it or more was taken, or an inducement came to its last step',
};

const verdicts: Readonly<Record<NonNullable<DerateItem['inquiry']>['verdict'], string>> = {
  found: 'Origin found',
  several: 'More than one origin',
  unknown: 'Origin not known',
};

/** What told of it, as one sentence part. */
export function signWords(list: readonly Sign[]): string {
  return list.map((sign) => signs[sign]).join('; ');
}

export function classWords(inducementClass: InducementClass): string {
  return classes[inducementClass];
}

export function levelWords(level: DerateItem['level']): string {
  return levels[level];
}

/** Missing: a derate that was not inquired into yet. */
export function verdictWords(inquiry: DerateItem['inquiry']): string {
  return inquiry === null ? 'Not inquired into yet' : verdicts[inquiry.verdict];
}

/** A machine that was heard of this long ago is not live, ms. */
const staleMs = 3_600_000;

/** What is known of a derate without an end: it goes on, or did when the machine was last heard of. */
export function ongoingWords(seenMs: number, nowMs: number): string {
  return nowMs - seenMs > staleMs ? 'still going on when the machine was last heard of' : 'still going on';
}

/** How long it lasted, or had lasted when the machine was last heard of. */
export function lengthWords({ startedAt, endedAt }: Pick<DerateItem, 'startedAt' | 'endedAt'>, seenMs: number): string {
  const endMs = endedAt === null ? seenMs : Date.parse(endedAt);
  const length = formatDuration(Math.max(0, endMs - Date.parse(startedAt)) / 1000);
  return endedAt === null ? `${length} so far` : length;
}

/** Figures of a derate as pairs of label and text; what is not known is left out. */
export function derateFigures(derate: DerateDetail): (readonly [string, string])[] {
  const { leastTorqueRatio, lostPowerKW, runningH, lostH, peakSeverity, saidClass } = derate;
  const pairs: (readonly [string, string | null])[] = [
    ['Least torque left', leastTorqueRatio === null ? null : `${Math.round(leastTorqueRatio * 100)} %`],
    ['Most power missing', lostPowerKW === null ? null : `${formatNumber(lostPowerKW)} kW`],
    ['Ran under it', runningH === null ? null : formatDuration(runningH * 3600)],
    ['Full work lost', lostH === null ? null : formatDuration(lostH * 3600)],
    ['Highest severity', peakSeverity === null ? null : String(peakSeverity)],
    ['The codes say it is about', saidClass === null ? null : classes[saidClass]],
  ];
  return pairs.filter((pair): pair is readonly [string, string] => pair[1] !== null);
}

/** A likelihood as a reader says it. Range: 0..1. */
export function likelihoodWords(ratio: number): string {
  const words = ratio >= 0.75 ? 'very likely' : ratio >= 0.5 ? 'likely' : ratio >= 0.2 ? 'possible' : 'unlikely';
  return `${words}, ${Math.round(ratio * 100)} %`;
}

/** How far away a step of an inducement is. */
export function stepWords(
  { hoursLeft, atLevelPct, isReached }: InducementClockDocument['lines'][number]['steps'][number],
  isUpperBound: boolean,
): string {
  if (isReached) return 'reached';
  if (hoursLeft !== null) return `in ${formatNumber(hoursLeft)} engine hours${isUpperBound ? ' or more' : ''}`;
  return atLevelPct === null ? '' : `at ${atLevelPct} % in the tank`;
}

/** Whose words a code is called by, where they are not those of the standard. */
export function wordsFrom(from: FaultLine['wordsFrom']): string | null {
  if (from === 'fleet') return 'the fleet’s own words';
  if (from === 'maker-range') return 'a number of the maker’s own';
  return from === 'unknown' ? 'not in our short table' : null;
}

/** Lamps that were on. */
export function lampWords(lamps: FaultLine['lamps']): string {
  const names = {
    redStop: 'red stop',
    amberWarning: 'amber warning',
    malfunction: 'malfunction',
    protect: 'protect',
  } as const;
  const on = (Object.keys(names) as (keyof typeof names)[])
    .filter((lamp) => lamps[lamp] === 'on')
    .map((lamp) => names[lamp]);
  return on.length === 0 ? 'no lamp told' : on.join(', ');
}
